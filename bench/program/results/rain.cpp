// rain: corrected rain from a logger's file and the gauge's certificates.
#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>

#include "bench/descriptions/logger.hpp"
#include "bench/program/command.hpp"
#include "bench/program/overwrite.hpp"
#include "bench/program/register/session_options.hpp"
#include "bench/program/results/commands.hpp"
#include "bench/program/results/in_batches.hpp"
#include "bench/program/results/log_zone.hpp"
#include "bench/program/results/rain_basis.hpp"
#include "bench/program/results/results.hpp"
#include "bench/program/terminal.hpp"
#include "calib/base/dates.hpp"
#include "calib/rain/rain_periods.hpp"
#include "calib/rain/tip_feed.hpp"
#include "report/certificate/record_pictures.hpp"
#include "report/files/files.hpp"
#include "report/files/streams.hpp"
#include "report/rain/rain_charts.hpp"
#include "report/rain/rain_report.hpp"
#include "report/seal/digest.hpp"

namespace tipwright::program {

namespace {

struct RainOptions {
    std::filesystem::path log;
    std::vector<std::string> certificates;  // files, or serial numbers of the register
    std::filesystem::path out;
    std::filesystem::path logger;  // how the file is to be read; empty: by the options alone
    calib::LogFormat format;
    std::string zone;  // of times without one, and of days; empty: UTC
    std::string dates = "auto";
    std::string drift = "uncertainty";
    double drift_percent_year = 0;
    double event_gap_h = 6;
    double spread_min = 60;
    double bounce_s = 0;  // 0: the gauge's own
    std::string paper = "A4";
    std::string language = "en";
    Session session;
};

// What the log is like, from its beginning.
struct LogKind {
    bool counts = false;
    bool whole_days = false;  // dates alone: each line counts a day
    bool two_contacts = false;
    double resolution_s = 1;
    double interval_s = 0;
};
constexpr std::uint64_t entries_looked_at = 20000;

Result<LogKind> kind_of_log(const RainOptions& options) {
    LogKind out;
    std::optional<double> first_s;
    std::uint64_t taken = 0;
    bool enough = false;
    calib::LogReader* reading = nullptr;
    calib::LogReader reader(options.format, options.log.string(),
                            [&](const calib::LogEntry& entry) -> Outcome {
                                ++taken;
                                if (!reading->counts()) {
                                    enough = taken > entries_looked_at;
                                    return Done{};
                                }
                                if (out.interval_s == 0) {
                                    if (reading->whole_days()) {
                                        out.interval_s = day_s;
                                    } else if (options.format.interval_s > 0) {
                                        out.interval_s = options.format.interval_s;
                                    } else if (!first_s) {
                                        first_s = entry.time_s;
                                        return Done{};
                                    } else {
                                        out.interval_s = entry.time_s - *first_s;
                                    }
                                }
                                enough = taken > entries_looked_at;
                                return Done{};
                            });
    reading = &reader;
    auto done = read_pieces(options.log, [&](std::string_view piece) -> Outcome {
        if (auto read = reader.take(piece); !read || !enough) return read;
        return Fault{FaultCode::interrupted, "enough is known", options.log.string(), ""};
    });
    if (done) done = reader.finish();
    if (!done && !enough) return done.fault();
    out.counts = reader.counts();
    out.whole_days = reader.whole_days();
    out.two_contacts = reader.two_contacts();
    out.resolution_s = reader.resolution_s();
    return out;
}

// What the description of the logger says, unless the command line says otherwise.
Outcome heed_logger(RainOptions& options) {
    if (options.logger.empty()) return Done{};
    const auto said = bench::load_logger(options.logger);
    if (!said) return said.fault();
    calib::LogFormat& format = options.format;
    for (auto [own, other] : {std::pair{&format.time_column, &said->format.time_column},
                              {&format.contact_column, &said->format.contact_column},
                              {&format.count_column, &said->format.count_column},
                              {&format.second_column, &said->format.second_column},
                              {&options.zone, &said->zone}})
        if (own->empty()) *own = *other;
    if (format.interval_s == 0) format.interval_s = said->format.interval_s;
    if (options.bounce_s == 0) options.bounce_s = said->bounce_s;
    format.names_start = format.names_start || said->format.names_start;
    if (options.dates == "auto") format.order = said->format.order;
    return Done{};
}

ExitCode rain(const CommonOptions& common, const RainOptions& given) {
    RainOptions options = given;
    report::RainReport report;
    if (options.dates != "auto")
        options.format.order =
            options.dates == "dmy" ? calib::DateOrder::day_first : calib::DateOrder::month_first;
    if (auto heeded = heed_logger(options); !heeded) return fail(common, heeded.fault());
    auto zone = log_zone(options.zone);
    if (!zone) return fail(common, zone.fault());
    options.format.utc_offset_s = zone->offset_s;
    if (!zone->changes.empty()) report.zone = options.zone;
    options.format.zone = std::move(zone->changes);
    auto basis = rain_basis(options.certificates, options.session, report);
    if (!basis) return fail(common, basis.fault());
    const auto kind = kind_of_log(options);
    if (!kind) return fail(common, kind.fault());
    if (kind->whole_days) {
        if (options.format.interval_s > 0 && options.format.interval_s != kind->interval_s)
            return fail(common, {FaultCode::inconsistent,
                                 "its lines have dates without a time of day, so each counts a day, not " +
                                     std::to_string(std::lround(options.format.interval_s)) + " s",
                                 options.log.string(), "leave out --interval, or give times"});
        options.format.interval_s = kind->interval_s;
    }
    const auto paper = stationery(common, options.paper, options.language);
    if (!paper) return fail(common, paper.fault());

    auto& settings = report.settings;
    settings.utc_offset_s = zone->offset_s;
    settings.spread_limit_s = 60 * options.spread_min;
    settings.event_gap_s = 3600 * options.event_gap_h;
    settings.resolution_s = kind->resolution_s;
    settings.drift =
        options.drift == "interpolation" ? calib::DriftAs::interpolation : calib::DriftAs::uncertainty;
    settings.drift_per_year = options.drift_percent_year / 100;
    const bool coarse = !kind->counts && kind->resolution_s >= 10;
    settings.count_interval_s = kind->counts ? kind->interval_s : coarse ? kind->resolution_s : 0;
    if (kind->counts) settings.step_s = std::max(60.0, kind->interval_s);
    if (settings.spread_limit_s < 2 * settings.step_s) settings.spread_limit_s = 2 * settings.step_s;
    if (settings.event_gap_s < settings.spread_limit_s) settings.event_gap_s = settings.spread_limit_s;
    report.log = options.log.filename().string();

    if (auto made = make_folder(options.out); !made) return fail(common, made.fault());
    GrowingFile minutes(options.out / "minutes.csv");
    GrowingFile amounts(options.out / "amounts.csv");
    minutes.append(report::rain_csv_head(report, true));
    amounts.append(report::rain_csv_head(report, false));
    const double per_hour = 3600 / settings.step_s;
    // Of the document's last list; left behind is nothing of it.
    GrowingFile events(options.out / "rain-events");
    bool any_event = false;
    std::string row;
    // Of a log of years reading, correcting, adding up and writing take about as long: each is done beside
    // the others.
    InBatches<calib::RainAmount> minute_rows([&](const std::vector<calib::RainAmount>& batch) -> Outcome {
        std::string rows;
        for (const calib::RainAmount& minute : batch)
            report::append_minute(rows, minute, settings.utc_offset_s, per_hour);
        minutes.append(rows);
        return Done{};
    });
    calib::rain::RainPeriods periods(
        basis->gauge, basis->reigns, settings, [&](const calib::RainAmount& amount) {
            // A file that cannot be written says so when it is committed.
            if (amount.period == calib::RainPeriod::minute)
                return static_cast<void>(minute_rows.take(amount));
            row.clear();
            report::append_amount(row, amount, settings.utc_offset_s);
            amounts.append(row);
            if (amount.period == calib::RainPeriod::event) {
                if (any_event) events.append(",");
                any_event = true;
                events.append(report::rain_row_json(amount, settings.utc_offset_s));
                report::keep_largest(report.events, amount);
            }
            if (amount.period == calib::RainPeriod::day) report.days.push_back(amount);
            if (amount.period == calib::RainPeriod::month) report.months.push_back(amount);
            if (amount.period == calib::RainPeriod::year) report.years.push_back(amount);
            if (report::minutes_of(amount.period) > 0) report.largest.push_back(amount);
            if (amount.period == calib::RainPeriod::total) report.total = amount;
        });
    InBatches<calib::rain::Piece> pieces([&](const std::vector<calib::rain::Piece>& batch) -> Outcome {
        for (const calib::rain::Piece& piece : batch) periods.take(piece);
        return Done{};
    });
    calib::RainMeter meter(basis->gauge, basis->reigns, settings,
                           [&](const calib::rain::Piece& piece) { static_cast<void>(pieces.take(piece)); });
    calib::FeedSettings feed;
    feed.bounce_s = options.bounce_s > 0 ? options.bounce_s : basis->debounce_s;
    feed.counts = kind->counts;
    feed.two_contacts = kind->two_contacts;
    feed.interval_s = options.format.interval_s;
    feed.names_start = options.format.names_start;
    feed.resolution_s = kind->resolution_s;
    calib::TipFeed tips(feed, meter);
    InBatches<calib::LogEntry> entries([&](const std::vector<calib::LogEntry>& batch) -> Outcome {
        for (const calib::LogEntry& entry : batch)
            if (auto taken = tips.take(entry); !taken) return taken;
        return Done{};
    });
    calib::LogReader reader(options.format, options.log.string(),
                            [&](const calib::LogEntry& entry) { return entries.take(entry); });
    seal::Sha256 digest;
    auto done = read_pieces(options.log, [&](std::string_view piece) {
        digest.add(piece);
        return reader.take(piece);
    });
    if (done) done = reader.finish();
    // What is wrong with an earlier line comes first.
    if (auto taken = entries.finish(); !taken) done = taken;
    if (done) done = tips.finish();
    if (done) done = pieces.finish();
    if (done) done = minute_rows.finish();
    if (!done) return fail(common, done.fault());
    if (report.total.tips == 0)
        return fail(common, {FaultCode::missing_field, "there is no tip in it", options.log.string(),
                             "give a log with rain"});
    if (report.first_as_left && report.total.from_s < report.first_calibrated_s)
        return fail(common,
                    {FaultCode::inconsistent,
                     "the log begins before the first calibration, and that says only how the gauge was "
                     "left: nothing is known of the time before",
                     options.log.string(),
                     "give the as-found record or an earlier certificate too, or the log from " +
                         report.certificates.front().calibrated_on + " on"});
    static constexpr char hex[] = "0123456789abcdef";
    for (const char c : digest.bytes()) {
        report.log_sha256.push_back(hex[static_cast<unsigned char>(c) >> 4]);
        report.log_sha256.push_back(hex[static_cast<unsigned char>(c) & 15]);
    }
    report.signs = meter.signs();

    const auto pdf = report::draw_rain(report, *paper);
    if (!pdf) return fail(common, pdf.fault());
    const auto measure = report::certificate::Canvas::open(paper->fonts, 760, 380);
    if (!measure) return fail(common, measure.fault());
    const auto picture = [&](const report::certificate::Chart& chart, const std::string& name) {
        return report::certificate::chart_picture(chart, paper->words, **measure, {570, 285},
                                                  report::certificate::Theme::paper, name);
    };
    for (const auto& [name, bytes] :
         {std::pair<std::string, std::string>{"rain.pdf", *pdf},
          {"sum.svg", picture(report::rain_sum_chart(report, paper->words), "sum")},
          {"periods.svg", picture(report::rain_period_chart(report, paper->words), "periods")}})
        if (auto written = write_file(options.out / name, bytes); !written)
            return fail(common, written.fault());
    GrowingFile json(options.out / "rain.json");
    report::write_rain_json(
        report, [&](std::string_view text) { json.append(text); }, [&] { events.append_to(json); });
    for (GrowingFile* file : {&minutes, &amounts, &json})
        if (auto committed = file->commit(); !committed) return fail(common, committed.fault());
    if (common.json) {
        const auto text = read_file(options.out / "rain.json", std::numeric_limits<std::size_t>::max());
        if (!text) return fail(common, text.fault());
        print_json_text(*text);
        return ExitCode::done;
    }
    print_lines(stdout, report::rain_text(report));
    for (const std::string& sentence : report::rain_unknown_sentences(report, paper->words))
        print_to(stdout, "  %s\n", sentence);
    for (const std::string& sentence : report::rain_sign_sentences(report, paper->words))
        print_to(stdout, "  %s\n", sentence);
    print_to(stdout, "%-12s %s\n", "report", (options.out / "rain.pdf").string());
    return ExitCode::done;
}

}  // namespace

void add_rain(CommandLine& line) {
    const auto [command, options] =
        add_command(line, line.app, "rain", "Correct a logger's rain with the gauge's certificate", rain);
    command.add_option("tips", options->log, "Logger's file: one tip per line, or counts of tips")
        .required()
        .type_name("TIPS.csv");
    command
        .add_option("--certificate", options->certificates,
                    "Certificates or records of the gauge, or its serial number in the register; a later "
                    "as-found one gives the drift")
        .required()
        .type_name("FILE|SERIAL");
    command.add_option("--out", options->out, "Folder for amounts, minutes, report and pictures")
        .required()
        .type_name("DIR");
    add_force(command, options->out, {"rain.json", "rain.pdf", "amounts.csv", "minutes.csv"});
    command
        .add_option("--logger", options->logger,
                    "How to read the file: columns, zone, dates (see templates/README.md)")
        .type_name("FILE.toml");
    command.add_option(
        "--zone", options->zone,
        "Time zone of days, and of times without a zone, such as +01:00 or Europe/Vienna (default: UTC)");
    command.add_option("--dates", options->dates, "Order of dates such as 4/5/2031: dmy or mdy")
        .one_of({"auto", "dmy", "mdy"});
    command
        .add_option("--drift", options->drift,
                    "Drift between two certificates: keep it as an uncertainty, or interpolate")
        .one_of({"uncertainty", "interpolation"})
        .show_default();
    command
        .add_option("--drift-per-year", options->drift_percent_year,
                    "Half-width of the drift to expect per year after the last calibration, %")
        .in_range(0.0, 20.0);
    command.add_option("--time-column", options->format.time_column,
                       "Column of the times: its name, or its number from 1");
    command.add_option("--contact-column", options->format.contact_column,
                       "Column that says which contact closed; \"none\" if there is no such column");
    command.add_option("--count-column", options->format.count_column, "Column of the tips in an interval");
    command.add_option("--second-column", options->format.second_column, "The same for the second contact");
    command
        .add_option("--interval", options->format.interval_s,
                    "Interval of the counts, s (default: from the first two lines)")
        .in_range(1.0, 86400.0);
    command.add_flag("--start", options->format.names_start,
                     "The time of a count is the beginning of its interval");
    command.add_option("--event-gap", options->event_gap_h, "Dry hours that separate two events")
        .in_range(0.25, 240.0)
        .show_default();
    command.add_option("--spread", options->spread_min, "Longest interval a tip is spread over, min")
        .in_range(1.0, 1440.0)
        .show_default();
    command
        .add_option("--bounce", options->bounce_s,
                    "Closures closer together than this are one tip, s (default: the gauge's)")
        .in_range(0.001, 10.0);
    command.add_option("--language", options->language, "Language: en, de, fr, es, or a words file")
        .show_default();
    add_paper(command, *options);
    add_session(command, options->session, false);
}

}  // namespace tipwright::program
