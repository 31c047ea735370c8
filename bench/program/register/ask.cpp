// Questions, and a gauge's life on one page.
#include <sys/ioctl.h>
#include <unistd.h>

#include <algorithm>
#include <cstdio>
#include <iostream>
#include <nlohmann/json.hpp>
#include <set>

#include "bench/descriptions/descriptions.hpp"
#include "bench/descriptions/nearest.hpp"
#include "bench/page/views/desk_charts.hpp"
#include "bench/program/page/register_desk.hpp"
#include "bench/program/register/commands.hpp"
#include "bench/program/register/entities.hpp"
#include "bench/program/register/in_session.hpp"
#include "bench/program/register/session_options.hpp"
#include "bench/program/sentence.hpp"
#include "bench/program/terminal.hpp"
#include "calib/base/joined.hpp"
#include "calib/base/rounding.hpp"
#include "calib/base/text.hpp"
#include "report/certificate/canvas.hpp"
#include "report/files/files.hpp"
#include "report/register/kept_curve.hpp"
#include "report/register/life_words.hpp"
#include "report/tables/correction_csv.hpp"

namespace tipwright::program {

namespace {

// "NO,NC", as the register keeps it, alone reads as if there were none.
std::string contacts_text(const std::string& kept) {
    std::string out;
    int number = 0;
    for (std::size_t at = 0; at < kept.size();) {
        const std::size_t end = std::min(kept.find(',', at), kept.size());
        add_part(out, std::to_string(++number) + " normally " +
                          (kept.substr(at, end - at) == "NC" ? "closed" : "open"));
        at = end + 1;
    }
    return out;
}

struct AskOptions {
    Session session;
    report::ListFilter filter;
    std::string instrument, role, from, to;
    std::string kind;
    double percent = 2;
    double years = 3;
    std::filesystem::path csv;
};

struct LifeOptions {
    Session session;
    std::string serial;              // empty: one a line from standard input, as a scanner types them
    std::filesystem::path pictures;  // folder for its curves; empty: none
};

constexpr std::size_t least_width = 60;
constexpr std::size_t usual_width = 100;
constexpr std::size_t longest_serial = 200;

std::size_t page_width() {
    winsize size{};
    if (::ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) != 0 || size.ws_col == 0) return usual_width;
    return std::max<std::size_t>(least_width, size.ws_col);
}

std::string in_column(const std::string& text, std::size_t width) {
    const std::size_t length = code_point_count(text);
    return text + std::string(length < width ? width - length : 1, ' ');
}

using Lines = std::vector<std::pair<std::string, std::string>>;

// What the page says before the events.
Result<Lines> heading_of(report::Register& reg, const report::GaugeEntry& gauge) {
    Lines out{{"model", gauge.model}, {"kind", gauge.kind}};
    if (gauge.nominal_tip_mm)
        out.emplace_back("nominal tip", report::significant(*gauge.nominal_tip_mm, 6) + " mm");
    if (gauge.catch_diameter_mm)
        out.emplace_back("catch",
                         report::significant(*gauge.catch_diameter_mm, 6) + " mm" +
                             (gauge.catch_diameter_u_mm
                                  ? ", u = " + report::significant(*gauge.catch_diameter_u_mm, 2) + " mm"
                                  : "") +
                             (gauge.catch_method.empty() ? "" : "; " + gauge.catch_method));
    out.emplace_back("contacts", contacts_text(gauge.contacts));
    std::optional<report::AgreedInterval> interval = gauge.interval;
    if (gauge.customer != 0) {
        const auto customer = reg.customer(gauge.customer);
        if (!customer) return customer.fault();
        out.emplace_back("customer", customer->name);
        if (!interval) interval = customer->interval;
    }
    if (gauge.station != 0) {
        const auto station = reg.station(gauge.station);
        if (!station) return station.fault();
        out.emplace_back("station", station->name + (station->place.empty() ? "" : ", " + station->place));
    }
    if (interval)
        out.emplace_back("interval",
                         std::to_string(interval->months) + " months, agreed: " + interval->agreed);
    out.emplace_back("due", gauge.due_on);
    out.emplace_back("note", gauge.note);
    std::erase_if(out, [](const auto& line) { return line.second.empty(); });
    return out;
}

void print_page(const report::GaugeEntry& gauge, const Lines& heading, const report::Life& life) {
    constexpr std::size_t label = 14;
    constexpr std::size_t indent = 14;
    const std::size_t width = page_width();
    print_to(stdout, "Gauge %s\n", visible(gauge.serial).c_str());
    for (const auto& [name, value] : heading) {
        bool first = true;
        for (const std::string& line : wrapped(visible(value), width - label)) {
            print_to(stdout, "%s%s\n", in_column(first ? name : "", label).c_str(), line.c_str());
            first = false;
        }
    }
    print_to(stdout, "\n");
    for (const report::LifeEvent& event : life) {
        if (event.model != gauge.model) continue;
        std::string what = event.what + (event.certificate.empty() ? "" : " " + event.certificate);
        add_part(what, report::life_detail(event), ": ");
        what = visible(what);
        bool first = true;
        for (const std::string& line : wrapped(what, width - indent)) {
            print_to(stdout, "%s%s\n", in_column(first ? visible(event.on) : "", indent).c_str(),
                     line.c_str());
            first = false;
        }
    }
    if (life.empty()) print_to(stdout, "Nothing has happened to it yet.\n");
}

nlohmann::ordered_json elsewhere_for_machines(const std::vector<report::ElsewhereCalibration>& calibrations) {
    nlohmann::ordered_json out = nlohmann::ordered_json::array();
    for (const auto& calibration : calibrations) {
        nlohmann::ordered_json one = {{"certificate", calibration.certificate},
                                      {"calibrated_on", calibration.calibrated_on},
                                      {"laboratory", calibration.laboratory},
                                      {"results", nlohmann::ordered_json::array()}};
        for (const auto& point : report::curve_from_text(calibration.points))
            one["results"].push_back({{"intensity_mm_h", point.reference_mm_h},
                                      {"error_percent", point.error_percent},
                                      {"U_percent", point.U_percent}});
        out.push_back(std::move(one));
    }
    return out;
}

// The sentence, and beside it what it was made of.
nlohmann::ordered_json event_for_machines(const report::LifeEvent& event) {
    const auto rows = nlohmann::ordered_json::parse(report::as_json(report::life_table({event})));
    nlohmann::ordered_json out = rows.at(0);
    out["parts"] = nlohmann::ordered_json::array();
    for (const report::LifePart& part : event.parts) {
        nlohmann::ordered_json one = nlohmann::ordered_json::object();
        if (part.id.empty())
            one["text"] = part.text;
        else
            one["said"] = part.id;
        for (const report::LifeNumber& number : part.numbers)
            one[number.name] = nlohmann::ordered_json::parse(calib::fixed(number.value, number.decimals));
        for (const auto& [name, value] : part.names) one[name] = value;
        out["parts"].push_back(std::move(one));
    }
    return out;
}

ExitCode show_one(const CommonOptions& common, report::Register& reg, const std::string& serial) {
    const auto life = reg.life(serial);
    if (!life) return refuse(common, life.fault());
    const auto gauges = reg.gauges_with_serial(serial);
    if (!gauges) return refuse(common, gauges.fault());
    nlohmann::ordered_json document = nlohmann::ordered_json::array();
    for (const auto& gauge : *gauges) {
        const auto heading = heading_of(reg, gauge);
        if (!heading) return refuse(common, heading.fault());
        if (!common.json) {
            if (&gauge != &gauges->front()) print_to(stdout, "\n");
            print_page(gauge, *heading, *life);
            continue;
        }
        nlohmann::ordered_json one = {{"serial", gauge.serial}};
        for (const auto& [name, value] : *heading) one[name] = value;
        one["events"] = nlohmann::ordered_json::array();
        for (const report::LifeEvent& event : *life)
            if (event.model == gauge.model) one["events"].push_back(event_for_machines(event));
        const auto elsewhere = reg.calibrations_elsewhere(gauge.id);
        if (!elsewhere) return refuse(common, elsewhere.fault());
        one["calibrated_elsewhere"] = elsewhere_for_machines(*elsewhere);
        document.push_back(std::move(one));
    }
    if (common.json) print_json(document);
    return ExitCode::done;
}

ExitCode ask_due(const CommonOptions& common, const AskOptions& options) {
    std::int64_t never = 0;
    const ExitCode code =
        table_of(common, options.session, options.csv, [&](report::Register& reg) -> Result<report::Table> {
            const auto count = reg.never_due();
            if (!count) return count.fault();
            never = *count;
            return reg.due(options.filter);
        });
    if (code == ExitCode::done && never > 0 && !common.json)
        print_to(stderr,
                 "Calibrated gauges without an interval, which are never due: %lld. Where one is agreed: "
                 "tipwright register gauge change SERIAL --interval-months N --agreed WHERE\n",
                 static_cast<long long>(never));
    return code;
}

ExitCode ask_recall(const CommonOptions& common, const AskOptions& options) {
    return table_of(common, options.session, options.csv,
                    [&](report::Register& reg) -> Result<report::Table> {
                        const auto instrument = instrument_meant(reg, options.instrument, options.role);
                        if (!instrument) return instrument.fault();
                        return reg.recall(instrument->id, options.from, options.to, options.filter.limit);
                    });
}

// The name is that of a kind file, or of a gauge in the register: a mistyped one would answer as if all were
// well.
Outcome kind_is_known(const CommonOptions& common, report::Register& reg, const std::string& kind) {
    if (kind.empty()) return Done{};
    const auto templates =
        bench::list_templates(bench::TemplateKind::gauge_kind, common.templates,
                              [](const std::string&) -> Result<std::string> { return std::string(); });
    if (!templates) return templates.fault();
    std::set<std::string> known;
    for (const auto& one : *templates) known.insert(one.name);
    if (known.contains(kind)) return Done{};
    report::ListFilter every;
    every.limit = 1000000;
    const auto gauges = reg.list_gauges(every);
    if (!gauges) return gauges.fault();
    const auto column = std::find(gauges->columns.begin(), gauges->columns.end(), "kind");
    for (const auto& row : gauges->rows)
        if (const auto* name =
                std::get_if<std::string>(&row.at(static_cast<std::size_t>(column - gauges->columns.begin()))))
            known.insert(*name);
    if (known.contains(kind)) return Done{};
    const std::string meant = bench::nearest(kind, {known.begin(), known.end()});
    return Fault{
        FaultCode::unknown_field, "there is no kind of gauge " + in_quotes(kind), "--kind",
        meant.empty() ? "see the kinds in 'tipwright list'" : "did you mean " + in_quotes(meant) + "?"};
}

ExitCode ask_drift(const CommonOptions& common, const AskOptions& options) {
    const auto now = desk_time();
    if (!now) return refuse(common, now.fault());
    return table_of(common, options.session, options.csv,
                    [&](report::Register& reg) -> Result<report::Table> {
                        if (const Outcome known = kind_is_known(common, reg, options.kind); !known)
                            return known.fault();
                        return reg.drifted(options.kind, options.percent, options.years, today(*now));
                    });
}

ExitCode ask_tolerance(const CommonOptions& common, const AskOptions& options) {
    return table_of(common, options.session, options.csv,
                    [&](report::Register& reg) -> Result<report::Table> {
                        if (const Outcome known = kind_is_known(common, reg, options.kind); !known)
                            return known.fault();
                        return reg.in_tolerance(options.kind);
                    });
}

ExitCode ask_work(const CommonOptions& common, const AskOptions& options) {
    return table_of(common, options.session, options.csv,
                    [](report::Register& reg) { return reg.open_work(); });
}

constexpr const char* curve_pictures[] = {"curves.svg", "drift.svg"};

// Its curves over each other, and its drift.
Outcome write_curves(const CommonOptions& common, const LifeOptions& options) {
    DeskOptions asked;
    asked.common = common;
    asked.location = options.session.location;
    const auto life = make_desk(asked)->life(options.serial);
    if (!life) return life.fault();
    const auto words = page::load_page_words(common.templates);
    if (!words) return words.fault();
    auto measure = report::certificate::Canvas::open({}, 595, 842);
    if (!measure) return measure.fault();
    if (auto made = make_folder(options.pictures); !made) return made;
    const auto charts =
        page::life_charts(*life, words->front(), **measure, report::certificate::Theme::paper);
    for (std::size_t k = 0; k < charts.size() && k < std::size(curve_pictures); ++k)
        if (auto written = write_file(options.pictures / curve_pictures[k], charts[k].second); !written)
            return written;
    return Done{};
}

ExitCode show_life(const CommonOptions& common, const LifeOptions& options) {
    auto reg = open_register(options.session);
    if (!reg) return refuse(common, reg.fault());
    if (!options.serial.empty()) {
        if (!options.pictures.empty())
            if (auto drawn = write_curves(common, options); !drawn) return refuse(common, drawn.fault());
        return show_one(common, *reg, options.serial);
    }
    ExitCode last = ExitCode::done;
    std::string line;
    while (std::getline(std::cin, line)) {
        if (!line.empty() && line.back() == '\r') line.pop_back();
        if (line.empty()) continue;
        last = show_one(common, *reg, line.substr(0, longest_serial));
        if (!common.json) print_to(stdout, "\n");
        std::fflush(stdout);
    }
    return last;
}

}  // namespace

void add_ask_group(CommandLine& line) {
    const auto group =
        add_group(line.app, "ask", "Ask the register: what is due, recall, drift, tolerance, work");
    auto due = add_verb(line, group, "due",
                        "List gauges that are due, by the interval agreed with their customer", ask_due);
    add_session(due.command, due->session, false);
    add_owner(due.command, due->filter);
    due.command.add_option("--from", due->filter.from_month, "From this month").type_name("YYYY-MM");
    due.command.add_option("--to", due->filter.to_month, "Up to and including this month")
        .type_name("YYYY-MM");
    due.command.add_option("--rows", due->filter.limit, "Maximum number of rows").show_default();
    add_csv(due.command, due->csv);

    auto recall = add_verb(line, group, "recall",
                           "List certificates that relied on an instrument between two dates", ask_recall);
    add_session(recall.command, recall->session, false);
    recall->filter.limit = 100000;
    recall.command.add_option("instrument", recall->instrument, "Its serial number")
        .required()
        .type_name("SERIAL");
    recall.command.add_option("--role", recall->role,
                              "Role, where two instruments have the same serial number: balance, pump, ...");
    recall.command.add_option("--from", recall->from, "First date").required().type_name("DATE");
    recall.command.add_option("--to", recall->to, "Last date").required().type_name("DATE");
    recall.command.add_option("--rows", recall->filter.limit, "Maximum number of rows").show_default();
    add_csv(recall.command, recall->csv);

    auto drift = add_verb(line, group, "drift",
                          "List gauges whose error drifted by more than --percent within --years", ask_drift);
    add_session(drift.command, drift->session, false);
    drift.command.add_option("--kind", drift->kind, "Only of this kind").type_name("KIND");
    drift.command.add_option("--percent", drift->percent, "List gauges that drifted by more than this, %")
        .show_default();
    drift.command.add_option("--years", drift->years, "Within this many years").show_default();
    add_csv(drift.command, drift->csv);

    auto tolerance =
        add_verb(line, group, "tolerance",
                 "Show the share of gauges found within their limits, by kind and age", ask_tolerance);
    add_session(tolerance.command, tolerance->session, false);
    tolerance.command.add_option("--kind", tolerance->kind, "Only of this kind").type_name("KIND");
    add_csv(tolerance.command, tolerance->csv);

    auto work = add_verb(line, group, "work", "List drafts waiting to be checked or issued", ask_work);
    add_session(work.command, work->session, false);
    add_csv(work.command, work->csv);
}

void add_life(CommandLine& line) {
    auto life = add_verb(line, line.app, "life", "Show a gauge's history on one page, by its serial number",
                         show_life);
    add_session(life.command, life->session, false);
    life.command
        .add_option("serial", life->serial,
                    "Serial number (default: one per line from standard input, as a scanner types them)")
        .type_name("SERIAL");
    life.command
        .add_option("--svg", life->pictures,
                    "Also write its curves over the years to this folder, as SVG pictures")
        .needs("serial")
        .type_name("DIR");
    add_force(life.command, life->pictures, {curve_pictures[0], curve_pictures[1]});
}

}  // namespace tipwright::program
