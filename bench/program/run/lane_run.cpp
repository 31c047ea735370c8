#include "bench/program/run/lane_run.hpp"
#include "bench/program/letters.hpp"

#include <algorithm>
#include <utility>

#include "bench/descriptions/return_step.hpp"
#include "bench/descriptions/served.hpp"
#include "bench/descriptions/within_declared.hpp"
#include "bench/program/moment.hpp"
#include "bench/program/version.hpp"
#include "bench/run/collected.hpp"
#include "report/certificate/words.hpp"

namespace tipwright::program {

namespace {

namespace asio = boost::asio;

constexpr const char* virtual_start = "2026-11-02T08:00:00Z";
// A virtual run is resumed that much later, always.
constexpr double virtual_pause_s = 60;
// Whole seconds are said, and a computer's clock is led by a few tenths all the time.
constexpr double clock_play_s = 2;

void write_given(bench::RunLog& log, double time_s, const Descriptions& given) {
    const auto write = [&](const std::string& what, const bench::DescriptionText& text) {
        log.given(time_s, what, text.name, text.text);
    };
    write("bench", given.bench.text);
    write("gauge kind", given.gauge.kind_text);
    write("gauge", given.gauge.text);
    write("plan", given.plan.text);
}

Outcome write_state(bench::JournalWriter& journal, double time_s, bool as_left) {
    return journal.append(time_s, "gauge", {{"state", as_left ? "as_left" : "as_found"}});
}

Outcome write_operator(bench::JournalWriter& journal, double time_s, const std::string& name) {
    if (name.empty()) return Done{};
    return journal.append(time_s, "operator", {{"name", name}});
}

Outcome write_side_up(bench::JournalWriter& journal, double time_s, char side) {
    if (side == 0) return Done{};
    return journal.append(time_s, "side", {{"up", std::string(1, side)}});
}

// A journal's bench time goes on whatever the computer's clock does; its times of day do not.
std::optional<std::string> clock_set_back(const std::string& broke_off_at, const std::string& now) {
    const auto passed_s = seconds_between(broke_off_at, now);
    if (!passed_s || *passed_s >= -clock_play_s) return std::nullopt;
    return "The computer's clock said " + now + " when the run was resumed, earlier than the " +
           broke_off_at +
           " at which it broke off: it was set back, and the times of day in this journal do not follow one "
           "another.";
}

}  // namespace

Result<Descriptions> load_descriptions(const DescriptionNames& names,
                                       const std::filesystem::path& templates) {
    auto bench = bench::load_bench(names.bench, templates);
    if (!bench) return bench.fault();
    auto gauge = bench::load_gauge(names.gauge, templates);
    if (!gauge) return gauge.fault();
    auto plan = bench::load_plan(names.plan, templates);
    if (!plan) return plan.fault();
    if (names.within_declared) {
        auto cut = bench::cut_to_declared(*gauge, *plan);
        if (!cut) return cut.fault();
        plan = std::move(cut);
    }
    if (auto within = bench::check_within_declared(*gauge, *plan); !within) return within.fault();
    if (auto returned = bench::with_return(*gauge, *plan); returned)
        plan = std::move(returned);
    else
        return returned.fault();
    if (!bench->truth && gauge->serial.empty()) {
        return Fault{FaultCode::missing_field, "the gauge has no serial number", gauge->kind_text.name,
                     "make a gauge file with kind, serial and customer: see templates/gauges"};
    }
    if (auto together = bench::check_together(*gauge, *plan, *bench); !together) return together.fault();
    if (auto letters = check_letters(*gauge, *bench, *plan); !letters) return letters.fault();
    // A fault in the words of the paper is told before water flows, not after an hour of it.
    if (auto words = report::certificate::load_words(templates / "certificate" / "en.toml"); !words)
        return words.fault();
    return Descriptions{std::move(*bench), std::move(*gauge), std::move(*plan)};
}

Result<std::string> start_moment(const bench::BenchDescription& bench, const std::string& wanted) {
    if (!bench.truth) return utc_now();
    const auto served = bench::parse_served(bench.text);
    const std::string otherwise = served && !served->started_at.empty() ? served->started_at : virtual_start;
    const std::string moment = wanted.empty() ? otherwise : wanted;
    if (!later(moment, 0)) {
        return Fault{FaultCode::bad_value, "'" + moment + "' is not a UTC time", "--started-at",
                     "write it as 2026-11-02T08:00:00Z"};
    }
    return moment;
}

double speed_of(const bench::BenchDescription& bench, const std::optional<double>& said) {
    if (said) return *said;
    const auto served = bench::parse_served(bench.text);
    return served && served->speed && !has_virtual_links(bench) ? *served->speed : 1;
}

std::unique_ptr<bench::Clock> clock_of(boost::asio::io_context& context, bool all_inside,
                                       const bench::BenchDescription& bench,
                                       const std::optional<double>& said, double start_s) {
    if (all_inside && !said) return bench::make_lockstep_clock(context, start_s);
    if (all_inside) return bench::make_paced_clock(context, *said, start_s);
    return bench::make_wall_clock(context, speed_of(bench, said), start_s);
}

double bench_time_to_resume_s(const bench::OpenRun& open) {
    const double last_s = open.journal.last_time_s;
    if (open.run.bench.truth) return last_s + virtual_pause_s;
    const auto since_start_s = seconds_between(open.run.started_at, utc_now());
    return std::max(last_s + 1, since_start_s.value_or(0));
}

struct LaneRun::Parts {
    asio::io_context& context;
    bench::Clock& clock;
    bench::Supervision& supervision;
    Descriptions given;
    std::string started_at;
    std::unique_ptr<LaneInstruments> instruments;
    std::unique_ptr<bench::JournalWriter> journal;
    std::unique_ptr<bench::RunLog> log;
    bench::RunControl control;
    bench::RunEnd end;
    bench::BrokeOff broke_off;
    std::optional<bench::KnownPumpScale> pump_scale;
    bench::KnownIdentities identities = {};
};

LaneRun::LaneRun(std::unique_ptr<Parts> parts) : parts_(std::move(parts)) {}
LaneRun::~LaneRun() = default;

bench::RunControl& LaneRun::control() {
    return parts_->control;
}
const bench::RunEnd& LaneRun::end() const {
    return parts_->end;
}
const Descriptions& LaneRun::given() const {
    return parts_->given;
}
LaneInstruments& LaneRun::instruments() {
    return *parts_->instruments;
}

Result<std::unique_ptr<LaneRun::Parts>> LaneRun::make_parts(asio::io_context& context, bench::Clock& clock,
                                                            Descriptions given, const LaneOptions& options) {
    auto parts = std::make_unique<Parts>(Parts{context,
                                               clock,
                                               *options.supervision,
                                               std::move(given),
                                               options.started_at,
                                               nullptr,
                                               nullptr,
                                               nullptr,
                                               {},
                                               {},
                                               {},
                                               options.pump_scale});
    auto instruments =
        LaneInstruments::make(context, clock, parts->given.bench, parts->given.gauge, options.seed,
                              options.templates, options.faults, options.supervision);
    if (!instruments) return instruments.fault();
    parts->instruments = std::move(*instruments);
    return parts;
}

Result<std::unique_ptr<LaneRun>> LaneRun::begin(asio::io_context& context, bench::Clock& clock,
                                                Descriptions given, const LaneOptions& options) {
    auto parts = make_parts(context, clock, std::move(given), options);
    if (!parts) return parts.fault();
    auto journal = bench::JournalWriter::create(options.folder / journal_name, {options.durable});
    if (!journal) return journal.fault();
    Parts& p = **parts;
    p.journal = std::move(*journal);
    p.log = std::make_unique<bench::RunLog>(*p.journal);
    const std::string seed = p.given.bench.truth ? std::to_string(options.seed) : "";
    p.log->open(clock.now_s(), version(), p.started_at, seed);
    write_given(*p.log, clock.now_s(), p.given);
    if (auto said = write_state(*p.journal, clock.now_s(), options.as_left); !said) return said.fault();
    if (auto said = write_operator(*p.journal, clock.now_s(), options.operator_name); !said)
        return said.fault();
    for (const auto& concession : options.concessions) p.log->accepted(clock.now_s(), concession);
    if (auto said = write_side_up(*p.journal, clock.now_s(), options.side_up); !said) return said.fault();
    return std::unique_ptr<LaneRun>(new LaneRun(std::move(*parts)));
}

Result<std::unique_ptr<LaneRun>> LaneRun::resume(asio::io_context& context, bench::Clock& clock,
                                                 Descriptions given, bench::OpenRun open,
                                                 const LaneOptions& options) {
    auto parts = make_parts(context, clock, std::move(given), options);
    if (!parts) return parts.fault();
    auto journal = bench::go_on_writing(open, {options.durable});
    if (!journal) return journal.fault();
    Parts& p = **parts;
    p.started_at = open.run.started_at;
    p.journal = std::move(*journal);
    p.log = std::make_unique<bench::RunLog>(*p.journal);
    p.broke_off.first_step = open.first_step;
    p.identities = std::move(open.identities);
    const auto collected_g = bench::collected_g(options.folder / journal_name);
    if (!collected_g) return collected_g.fault();
    p.broke_off.collected_g = *collected_g;
    const std::string now =
        p.given.bench.truth ? later(p.started_at, clock.now_s()).value_or(utc_now()) : utc_now();
    p.log->go_on(clock.now_s(), now, p.broke_off.first_step, open.journal.torn_bytes);
    if (const auto remark = clock_set_back(later(p.started_at, open.journal.last_time_s).value_or(""), now))
        p.log->remark(clock.now_s(), *remark);
    if (p.log->failure()) return *p.log->failure();
    if (auto said = write_side_up(*p.journal, clock.now_s(), options.side_up); !said) return said.fault();
    return std::unique_ptr<LaneRun>(new LaneRun(std::move(*parts)));
}

bench::Task<void> LaneRun::perform(bench::RunCallbacks callbacks) {
    Parts& p = *parts_;
    bench::Lane lane = p.instruments->lane();
    lane.pump_scale = p.pump_scale;
    lane.identities = p.identities;
    const auto log_timing = [&] {
        const double measured_s = lane.counter.edge_time_u_s();
        if (!(measured_s > p.given.bench.metrology.edge_time_u_s)) return;
        p.given.bench.metrology.edge_time_u_s = measured_s;
        p.log->timing(p.clock.now_s(), measured_s);
    };
    log_timing();
    p.end = co_await bench::perform_run(p.context, p.clock, p.supervision, lane, p.given.gauge.gauge,
                                        p.given.bench, p.given.plan.plan, *p.log, p.control,
                                        std::move(callbacks), p.broke_off);
    // A machine that became busy meanwhile was less sure.
    log_timing();
    const std::string reason = p.end.fault ? p.end.fault->line() : "every step of the plan was measured";
    p.log->close(p.clock.now_s(), later(p.started_at, p.clock.now_s()).value_or(utc_now()), p.end.complete,
                 reason);
    if (p.log->failure() && p.end.complete) {
        p.end.complete = false;
        p.end.fault = p.log->failure();
    }
    p.instruments->close();
}

std::string title_of(const Descriptions& given) {
    const std::string& serial = given.gauge.serial;
    return given.plan.plan.name + " on " + given.bench.title + ": gauge " +
           (serial.empty() ? "(no serial)" : serial) + ", " + given.gauge.kind_title;
}

}  // namespace tipwright::program
