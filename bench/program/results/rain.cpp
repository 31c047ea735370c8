#include "bench/program/results/rain.hpp"

#include <algorithm>
#include <chrono>
#include <cmath>
#include <optional>

#include <CLI/CLI.hpp>

#include "bench/descriptions/descriptions.hpp"
#include "bench/program/results/read_record.hpp"
#include "bench/program/results/results.hpp"
#include "bench/program/terminal.hpp"
#include "bench/virtual_bench/errors.hpp"
#include "bench/virtual_bench/rain_gauge.hpp"
#include "calib/base/dates.hpp"
#include "calib/rain/count_pace.hpp"
#include "calib/rain/tip_feed.hpp"
#include "report/files/files.hpp"
#include "report/files/streams.hpp"
#include "report/rain/rain_charts.hpp"
#include "report/rain/rain_report.hpp"
#include "report/record/statement_of.hpp"
#include "report/seal/digest.hpp"

namespace tipwright::program {

namespace {

constexpr double day_s = 86400;
// An as-left record so soon after the as-found one is of the same visit.
constexpr double one_visit_s = 60 * day_s;

std::optional<double> moment_s(const std::string& iso) {
    const auto date = iso_date(iso.substr(0, 10));
    if (!date) return std::nullopt;
    double seconds = day_s * static_cast<double>(std::chrono::sys_days(*date).time_since_epoch().count());
    if (iso.size() >= 19) {
        const auto part = [&](std::size_t at) { return (iso[at] - '0') * 10 + (iso[at + 1] - '0'); };
        seconds += 3600 * part(11) + 60 * part(14) + part(17);
    }
    return seconds;
}

Result<double> zone_s(const std::string& zone) {
    if (zone == "Z" || zone == "UTC") return 0.0;
    int hours = 0, minutes = 0;
    char sign = 0;
    if (std::sscanf(zone.c_str(), "%c%2d:%2d", &sign, &hours, &minutes) == 3 &&
        (sign == '+' || sign == '-') && zone.size() == 6 && hours <= 14 && minutes < 60 && hours >= 0 &&
        minutes >= 0)
        return (sign == '-' ? -1 : 1) * (3600.0 * hours + 60.0 * minutes);
    return Fault{FaultCode::bad_value, "no time zone: " + in_quotes(zone), "--zone",
                 "give the logger's distance to UTC, as +01:00"};
}

struct Basis {
    std::vector<calib::RainCalibration> reigns;
    calib::RainGauge gauge;
    double bounce_s = 0;
    std::size_t contacts = 1;
};

Result<Basis> basis_of(const RainOptions& options, report::RainReport& report) {
    std::vector<std::pair<double, report::Record>> records;
    for (const auto& file : options.certificates) {
        auto record = read_record(file);
        if (!record) return record.fault();
        const auto when = moment_s(record->ended_at);
        if (!when || !record->evaluation.model || !record->evaluation.correction)
            return Fault{FaultCode::missing_field, "there is no correction in it", file.string(),
                         "give a certificate of a run at several rates whose steps are stated"};
        if (!records.empty() && record->identity.serial != records.front().second.identity.serial)
            return Fault{FaultCode::inconsistent,
                         "is of gauge " + in_quotes(record->identity.serial) + ", the first of " +
                             in_quotes(records.front().second.identity.serial),
                         file.string(), "give certificates of one gauge"};
        records.emplace_back(*when, std::move(*record));
    }
    std::stable_sort(records.begin(), records.end(),
                     [](const auto& a, const auto& b) { return a.first < b.first; });
    Basis out;
    for (std::size_t i = 0; i < records.size(); ++i) {
        const auto& [when, record] = records[i];
        auto curve = calib::DepthCurve::make(*record.evaluation.model, record.gauge);
        if (!curve) return curve.fault();
        report::RainCertificate certificate;
        certificate.number = record.number;
        certificate.calibrated_on = record.ended_at.substr(0, 10);
        certificate.state = record.state;
        certificate.reservations = report::reservation_notes(record);
        const bool found = record.state == report::State::as_found;
        if (found && !out.reigns.empty() && !out.reigns.back().found) {
            out.reigns.back().found = *curve;
            out.reigns.back().found_at_s = when;
            report.drift_known = true;
        }
        const bool adjusted_then = found && i + 1 < records.size() &&
                                   records[i + 1].second.state == report::State::as_left &&
                                   records[i + 1].first - when < one_visit_s;
        if (!adjusted_then) {
            calib::RainCalibration reign;
            if (!out.reigns.empty()) {
                reign.from_s = when;
                certificate.from = certificate.calibrated_on;
            }
            // The drift to the next one counts from the calibration itself.
            if (out.reigns.empty()) reign.from_s = when;
            reign.left = std::move(*curve);
            out.reigns.push_back(std::move(reign));
        }
        report.certificates.push_back(std::move(certificate));
    }
    const report::Record& last = records.back().second;
    out.gauge = calib::rain_gauge(last.gauge, calib::observations_of(last.evaluation));
    out.bounce_s = options.bounce_s > 0 ? options.bounce_s : last.gauge.debounce_s;
    out.contacts = last.gauge.contacts.size();
    report.gauge = last.identity.kind_title + ", " + last.identity.serial;
    report.serial = last.identity.serial;
    report.invented = last.invented;
    report.origin = last.origin;
    report.nominal_mm = last.gauge.nominal_tip_mm;
    for (const auto& step : calib::observations_of(last.evaluation))
        report.highest_mm_h = std::max(report.highest_mm_h, step.set_intensity_mm_h);
    return out;
}

// What the log is like, from its beginning; of counts, the pace within them, from all of it.
struct LogKind {
    bool counts = false;
    bool two_contacts = false;
    double resolution_s = 1;
    double interval_s = 0;
    double pace_factor = 1;
    double exponent = 0;
};
constexpr std::uint64_t entries_looked_at = 20000;

Result<LogKind> kind_of_log(const RainOptions& options) {
    LogKind out;
    std::optional<calib::CountPace> pace;
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
                                    if (options.format.interval_s > 0) {
                                        out.interval_s = options.format.interval_s;
                                    } else if (!first_s) {
                                        first_s = entry.time_s;
                                        return Done{};
                                    } else {
                                        out.interval_s = entry.time_s - *first_s;
                                    }
                                }
                                if (out.interval_s > 60) {
                                    if (!pace) pace.emplace(out.interval_s);
                                    pace->take(std::max(0, std::max(entry.count, entry.second)));
                                } else {
                                    enough = taken > entries_looked_at;
                                }
                                return Done{};
                            });
    reading = &reader;
    auto done = read_pieces(options.log, [&](std::string_view piece) -> Outcome {
        if (enough) return Done{};
        return reader.take(piece);
    });
    if (done && !enough) done = reader.finish();
    if (!done) return done.fault();
    out.counts = reader.counts();
    out.two_contacts = reader.two_contacts();
    out.resolution_s = reader.resolution_s();
    if (pace) {
        out.pace_factor = pace->factor();
        out.exponent = pace->exponent();
    }
    return out;
}

}  // namespace

ExitCode rain(const CommonOptions& common, const RainOptions& given) {
    RainOptions options = given;
    const auto zone = zone_s(options.zone);
    if (!zone) return fail(common, zone.fault());
    options.format.utc_offset_s = *zone;
    options.format.order = options.dates == "dmy"   ? calib::DateOrder::day_first
                           : options.dates == "mdy" ? calib::DateOrder::month_first
                                                    : calib::DateOrder::automatic;
    report::RainReport report;
    auto basis = basis_of(options, report);
    if (!basis) return fail(common, basis.fault());
    const auto kind = kind_of_log(options);
    if (!kind) return fail(common, kind.fault());
    auto words = certificate_words(common, options.language);
    if (!words) return fail(common, words.fault());

    auto& settings = report.settings;
    settings.utc_offset_s = *zone;
    settings.spread_limit_s = 60 * options.spread_min;
    settings.event_gap_s = 3600 * options.event_gap_h;
    settings.resolution_s = kind->resolution_s;
    settings.drift =
        options.drift == "interpolation" ? calib::DriftAs::interpolation : calib::DriftAs::uncertainty;
    const bool coarse = !kind->counts && kind->resolution_s >= 10;
    settings.counts = kind->counts || coarse;
    report.count_interval_s = kind->counts ? kind->interval_s : coarse ? kind->resolution_s : 0;
    report.count_exponent = kind->exponent;
    settings.pace_factor = kind->pace_factor;
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
    std::string row;
    calib::RainMeter meter(basis->gauge, basis->reigns, settings, [&](const calib::RainAmount& amount) {
        row.clear();
        if (amount.period == calib::RainPeriod::minute) {
            report::append_minute(row, amount, settings.utc_offset_s, per_hour);
            minutes.append(row);
            return;
        }
        report::append_amount(row, amount, settings.utc_offset_s);
        amounts.append(row);
        if (amount.period == calib::RainPeriod::event) report.events.push_back(amount);
        if (amount.period == calib::RainPeriod::day) report.days.push_back(amount);
        if (amount.period == calib::RainPeriod::month) report.months.push_back(amount);
        if (amount.period == calib::RainPeriod::year) report.years.push_back(amount);
        if (amount.period == calib::RainPeriod::total) report.total = amount;
    });
    calib::FeedSettings feed;
    feed.bounce_s = basis->bounce_s;
    feed.counts = kind->counts;
    feed.two_contacts = kind->two_contacts;
    feed.interval_s = options.format.interval_s;
    feed.names_start = options.format.names_start;
    feed.resolution_s = kind->resolution_s;
    calib::TipFeed tips(feed, meter);
    calib::LogReader reader(options.format, options.log.string(),
                            [&](const calib::LogEntry& entry) { return tips.take(entry); });
    seal::Sha256 digest;
    auto done = read_pieces(options.log, [&](std::string_view piece) {
        digest.add(piece);
        return reader.take(piece);
    });
    if (done) done = reader.finish();
    if (done) done = tips.finish();
    if (!done) return fail(common, done.fault());
    if (report.total.tips == 0)
        return fail(common, {FaultCode::missing_field, "there is no tip in it", options.log.string(),
                             "give a log with rain"});
    static constexpr char hex[] = "0123456789abcdef";
    for (const char c : digest.bytes()) {
        report.log_sha256.push_back(hex[static_cast<unsigned char>(c) >> 4]);
        report.log_sha256.push_back(hex[static_cast<unsigned char>(c) & 15]);
    }
    report.signs = meter.signs();

    report::RainPaper paper;
    paper.paper = options.paper == "Letter" ? report::Paper::letter : report::Paper::a4;
    paper.words = std::move(*words);
    const auto pdf = report::draw_rain(report, paper);
    if (!pdf) return fail(common, pdf.fault());
    const auto number = [&](const std::string& plain) { return paper.words.number(plain); };
    const std::string json = report::rain_json(report);
    for (const auto& [name, bytes] :
         {std::pair<std::string, std::string>{"rain.json", json},
          {"rain.pdf", *pdf},
          {"sum.svg", report::chart_svg(report::rain_sum_chart(report, paper.words), 760, 380, number)},
          {"periods.svg",
           report::chart_svg(report::rain_period_chart(report, paper.words), 760, 380, number)}})
        if (auto written = write_file(options.out / name, bytes); !written)
            return fail(common, written.fault());
    for (GrowingFile* file : {&minutes, &amounts})
        if (auto committed = file->commit(); !committed) return fail(common, committed.fault());
    if (common.json) {
        print_json_text(json);
        return ExitCode::done;
    }
    print_lines(stdout, report::rain_text(report));
    for (const std::string& sentence : report::rain_sign_sentences(report, paper.words))
        print_to(stdout, "  %s\n", sentence);
    print_to(stdout, "%-12s %s\n", "report", (options.out / "rain.pdf").string());
    return ExitCode::done;
}

ExitCode virtual_rain(const CommonOptions& common, const VirtualRainOptions& options) {
    const auto gauge = bench::load_gauge(options.gauge, common.templates);
    if (!gauge) return fail(common, gauge.fault());
    const auto bench = bench::load_bench("virtual-bench", common.templates);
    if (!bench) return fail(common, bench.fault());
    const auto start = moment_s(options.from);
    if (!start)
        return fail(common, {FaultCode::bad_value, "no date: " + in_quotes(options.from), "--from",
                             "give 2031-04-01"});
    if (!gauge->truth)
        return fail(common, {FaultCode::missing_field, "the gauge kind has no [virtual] table", options.gauge,
                             "take one of 'tipwright list'"});
    bench::RainClimate climate;
    if (options.climate == "drizzle") climate = {0.8, 10, 0.15, 0.7, 0.9, 0.35};
    if (options.climate == "heavy") climate = {0.4, 6, 0.6, 4, 18, 0.4};
    const auto errors = bench::draw_errors(gauge->gauge, *bench->truth, bench->metrology, options.seed);
    bench::RainGauge standing(gauge->gauge, bench::truth_of_one(*gauge->truth, errors),
                              errors.catch_diameter_mm, options.seed);
    bench::VirtualRain rain(climate, options.days * day_s, options.seed);
    GrowingFile file(options.out);
    file.append("# invented: virtual rain on a virtual gauge; seed " + std::to_string(options.seed) + "\n" +
                "time,contact\n");
    for (double day = 0; day < options.days; ++day) {
        std::string rows;
        for (const auto& tip : standing.stand_in(rain, std::min(day + 1, options.days) * day_s)) {
            char text[64];
            const auto centi = static_cast<long long>(std::llround(tip.time_s * 100));
            std::snprintf(text, sizeof text, ".%02dZ,%d\n", static_cast<int>(centi % 100), tip.contact);
            const std::string moment =
                report::rain_moment(*start + std::floor(static_cast<double>(centi / 100)), 0);
            rows += moment.substr(0, moment.size() - 1) + text;
        }
        file.append(rows);
    }
    if (auto committed = file.commit(); !committed) return fail(common, committed.fault());
    if (common.json)
        print_json_text("{\"ok\": true, \"fallen_mm\": " + std::to_string(standing.fallen_mm()) + "}");
    else
        print_to(stdout, "%-12s %.2f mm\n%-12s %s\n", "fell", standing.fallen_mm(), "tips",
                 options.out.string());
    return ExitCode::done;
}

void add_rain(CommandLine& line) {
    {
        const auto options = std::make_shared<RainOptions>();
        auto* command = line.app.add_subcommand("rain", "Correct a logger's rain by the gauge's certificate");
        command->add_option("tips", options->log, "Logger's file: a tip a line, or counts of tips")
            ->required()
            ->type_name("TIPS.csv");
        command
            ->add_option("--certificate", options->certificates,
                         "Certificates or records of the gauge, oldest first; an as-found one after another "
                         "gives the drift")
            ->required()
            ->type_name("FILE");
        command->add_option("--out", options->out, "Folder for amounts, minutes, report and pictures")
            ->required()
            ->type_name("DIR");
        command->add_option("--zone", options->zone, "Of times without one, and of days")
            ->capture_default_str();
        command->add_option("--dates", options->dates, "Of dates with slashes: dmy or mdy")
            ->check(CLI::IsMember({"auto", "dmy", "mdy"}));
        command
            ->add_option("--drift", options->drift, "Between two certificates: uncertainty or interpolation")
            ->check(CLI::IsMember({"uncertainty", "interpolation"}))
            ->capture_default_str();
        command->add_option("--time-column", options->format.time_column, "Name or number (from 1)");
        command->add_option("--contact-column", options->format.contact_column,
                            "Which contact closed; none: there is no such column");
        command->add_option("--count-column", options->format.count_column, "Tips in the interval");
        command->add_option("--second-column", options->format.second_column,
                            "The same of the second contact");
        command
            ->add_option("--interval", options->format.interval_s,
                         "Of counts, s (default: from the first two lines)")
            ->check(CLI::Range(1.0, 86400.0));
        command->add_flag("--start", options->format.names_start,
                          "A count's time is the beginning of its interval");
        command->add_option("--event-gap", options->event_gap_h, "Dry hours that part two events")
            ->check(CLI::Range(0.25, 240.0))
            ->capture_default_str();
        command->add_option("--spread", options->spread_min, "Longest interval a tip is spread over, min")
            ->check(CLI::Range(1.0, 1440.0))
            ->capture_default_str();
        command
            ->add_option("--bounce", options->bounce_s,
                         "Closures closer than this are one tip, s (default: the gauge's)")
            ->check(CLI::Range(0.001, 10.0));
        command->add_option("--language", options->language, "en, de, fr, es, or a words file")
            ->capture_default_str();
        add_paper(*command, *options);
        command->callback(
            [&line, options] { line.chosen = [&line, options] { return rain(line.common, *options); }; });
    }
    const auto options = std::make_shared<VirtualRainOptions>();
    auto* command =
        line.app.add_subcommand("virtual-rain", "Let invented rain fall on a virtual gauge; writes its tips");
    command->add_option("--gauge", options->gauge, "Gauge or gauge kind")->required()->type_name("FILE");
    command->add_option("--out", options->out, "Tips to write")->required()->type_name("TIPS.csv");
    command->add_option("--days", options->days, "How long")
        ->check(CLI::Range(1.0, 36525.0))
        ->capture_default_str();
    command->add_option("--seed", options->seed, "Same seed, same gauge as 'calibrate --seed'")
        ->capture_default_str();
    command->add_option("--from", options->from, "First day")->capture_default_str();
    command->add_option("--climate", options->climate, "drizzle, middle or heavy")
        ->check(CLI::IsMember({"drizzle", "middle", "heavy"}))
        ->capture_default_str();
    command->callback(
        [&line, options] { line.chosen = [&line, options] { return virtual_rain(line.common, *options); }; });
}

}  // namespace tipwright::program
