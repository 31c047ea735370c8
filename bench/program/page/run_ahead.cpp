#include "bench/program/page/run_ahead.hpp"

#include <algorithm>

#include "bench/descriptions/adjustment.hpp"
#include "bench/descriptions/descriptions.hpp"
#include "bench/journal/file_name.hpp"
#include "bench/journal/holder.hpp"
#include "bench/program/instruments/readiness.hpp"
#include "bench/program/register/session.hpp"
#include "bench/program/results/read_record.hpp"
#include "bench/program/run/enter_result.hpp"
#include "bench/program/run/gauge_by_serial.hpp"
#include "bench/program/run/lane_run.hpp"
#include "bench/program/run/work_folder.hpp"
#include "bench/run/sequence.hpp"
#include "calib/decision/adjustment_limits.hpp"

namespace tipwright::program {

namespace {

bool offered(const std::vector<page::Offer>& offers, const std::string& name) {
    return std::any_of(offers.begin(), offers.end(),
                       [&](const page::Offer& one) { return one.name == name; });
}

Result<std::string> title_of_file(const DeskOptions& options, bench::TemplateKind kind,
                                  const std::string& file) {
    if (kind == bench::TemplateKind::bench) {
        const auto bench = bench::load_bench(file, options.common.templates);
        if (!bench) return bench.fault();
        return bench->title;
    }
    const auto plan = bench::load_plan(file, options.common.templates);
    if (!plan) return plan.fault();
    return plan->plan.name;
}

void offer(const DeskOptions& options, std::vector<page::Offer>& to, const std::string& name,
           bench::TemplateKind kind) {
    if (name.empty() || offered(to, name)) return;
    const auto title = title_of_file(options, kind, name);
    if (title) to.push_back({name, *title});
}

Outcome offer_all(const DeskOptions& options, std::vector<page::Offer>& to, bench::TemplateKind kind) {
    const auto listed = bench::list_templates(kind, options.common.templates, [&](const std::string& file) {
        return title_of_file(options, kind, file);
    });
    if (!listed) return listed.fault();
    for (const auto& one : *listed)
        if (!one.fault && !offered(to, one.name)) to.push_back({one.name, one.title});
    return Done{};
}

CalibrateOptions asked(const DeskOptions& options, const page::RunAhead& ahead) {
    CalibrateOptions out;
    out.serial = ahead.wish.serial;
    out.entering.session.location = options.location;
    out.entering.work = options.work;
    out.bench = ahead.wish.bench;
    out.plan = ahead.wish.plan;
    out.as_left = ahead.wish.as_left;
    if (const auto now = desk_time()) out.started_at = *now;
    return out;
}

// The newest run that did not come to its end; where one was said to stand in the way, that one.
std::optional<page::UnfinishedRun> unfinished_of(const DeskOptions& options, const std::string& serial,
                                                 const std::string& in_the_way) {
    std::optional<page::UnfinishedRun> out;
    for (const KeptRun& run : kept_runs(options.work, serial)) {
        const bool bars = run.folder.string() == in_the_way;
        if (run.measured) out.reset();
        if (run.measured || run.given_up || (!in_the_way.empty() && !bars)) continue;
        std::error_code ignored;
        out = page::UnfinishedRun{std::filesystem::relative(run.folder, options.work, ignored).string(),
                                  bench::is_held(run.folder / bench::journal_name), bars};
        if (bars) break;
    }
    return out;
}

// The plan that the gauge was measured by as found: both states are then known at the same rates.
std::string plan_of_found(const DeskOptions& options, const page::RunAhead& ahead) {
    const Round round = newest_round(kept_runs(options.work, ahead.wish.serial));
    if (ahead.wish.serial.empty() || round.found.empty()) return "";
    const auto found = read_record(round.found / "record.json");
    if (!found) return "";
    for (const page::Offer& plan : ahead.plans)
        if (plan.title == found->plan.name) return plan.name;
    return "";
}

// What was found by one plan and left by another stands at other rates, perhaps against other limits.
void compare_with_found(const DeskOptions& options, const calib::Plan& plan, page::RunAhead& out) {
    const Round round = newest_round(kept_runs(options.work, out.wish.serial));
    if (round.found.empty()) return;
    // One that cannot be read is told of where it is wanted.
    const auto found = read_record(round.found / "record.json");
    if (!found || found->plan.name == plan.name) return;
    out.found_plan = found->plan.name;
    if (found->plan.limits.name != plan.limits.name) out.found_limits = found->plan.limits.name;
}

Outcome look_at_gauge(const DeskOptions& options, page::RunAhead& out, const bench::BenchDescription& bench,
                      const GaugeOf& gauge_of) {
    if (auto good = check_serial(out.wish.serial); !good) return good;
    auto gauge = gauge_of(out.wish.serial);
    if (!gauge) return gauge.fault();
    out.wish.serial = gauge->entry.serial;
    out.gauge = std::move(*gauge);
    const auto completed = completed_of(options, out);
    if (!completed) {
        out.unfinished = unfinished_of(options, out.wish.serial, completed.fault().where);
        return completed.fault();
    }
    out.unfinished = unfinished_of(options, out.wish.serial, "");
    const auto given =
        load_descriptions({out.wish.bench, completed->gauge, out.wish.plan}, options.common.templates);
    if (!given) return given.fault();
    const calib::Plan& plan = given->plan.plan;
    const auto left = [&](std::size_t step) {
        return bench::time_left_s(plan, given->gauge.gauge,
                                  {bench::RunState::settling, static_cast<int>(step), 1, 0});
    };
    for (std::size_t k = 0; k < plan.steps.size(); ++k)
        out.steps.push_back({plan.steps[k].intensity_mm_h,
                             calib::limits_at(plan.limits, plan.steps[k].intensity_mm_h),
                             left(k + 1) - left(k + 2), plan.steps[k].repeats});
    out.limits = plan.limits.rows.empty() ? "" : plan.limits.name;
    if (out.wish.as_left) compare_with_found(options, plan, out);
    out.least_s = bench::time_left_s(plan, given->gauge.gauge, {});
    if (given->gauge.gauge.compartments == 2) {
        const auto screws = bench::parse_stop_screws(given->gauge.kind_text);
        if (!screws) return screws.fault();
        out.sides = page::SidesAhead{screws->marks, screws->side_up};
    }
    const auto kept = load_checks(out.wish.bench, {});
    if (!kept) return kept.fault();
    for (auto& one : out.instruments) {
        if (const auto* check = kept->checks.balance(one.serial)) one.checked_on = check->at.substr(0, 10);
        if (const auto* check = kept->checks.pump(one.serial)) one.checked_on = check->at.substr(0, 10);
    }
    const auto now = desk_time();
    if (!now) return now.fault();
    const std::string reason = out.wish.reason.empty() ? "not given" : out.wish.reason;
    const auto ready = readiness_of(bench, kept->checks, *now, reason);
    if (!ready) return ready.fault();
    out.against = ready->against;
    out.told = ready->told;
    if (!out.against.empty() && out.wish.reason.empty())
        return Fault{FaultCode::not_permitted, out.against.front(), "bench",
                     "give a reason, or have it done"};
    // The child that measures does not enter; whoever drafts here afterwards does.
    EnterOptions entering;
    entering.enter = true;
    entering.bench_code = options.bench_code;
    entering.session.location = options.location;
    return check_entering(entering, given->bench, given->gauge, *now);
}

}  // namespace

Outcome check_serial(const std::string& serial) {
    if (!serial.empty() && serial.size() <= 100 && serial.front() != '-' && serial.front() != '.' &&
        serial.find('/') == std::string::npos && visible(serial) == serial)
        return Done{};
    return Fault{FaultCode::bad_value, in_quotes(serial) + " is not a serial number", "serial",
                 "scan it again"};
}

Result<CalibrateOptions> completed_of(const DeskOptions& options, const page::RunAhead& ahead) {
    return with_settings(options.common, asked(options, ahead));
}

std::string virtual_start(const std::filesystem::path& work, const std::string& serial,
                          const std::string& now) {
    std::string out = now;
    const Round round = newest_round(kept_runs(work, serial));
    for (const std::filesystem::path& folder : {round.found, round.left}) {
        if (folder.empty()) continue;
        // One that cannot be read is told of where it is wanted.
        const auto record = read_record(folder / "record.json");
        if (record && record->ended_at > out) out = record->ended_at;
    }
    return out;
}

Outcome look_ahead(const DeskOptions& options, page::RunAhead& out, const GaugeOf& gauge_of) {
    offer(options, out.benches, options.bench, bench::TemplateKind::bench);
    // A workshop that names its bench is not offered the examples.
    if (out.benches.empty())
        if (auto all = offer_all(options, out.benches, bench::TemplateKind::bench); !all) return all;
    offer(options, out.plans, options.plan_as_found, bench::TemplateKind::plan);
    offer(options, out.plans, options.plan_as_left, bench::TemplateKind::plan);
    if (auto all = offer_all(options, out.plans, bench::TemplateKind::plan); !all) return all;
    const std::string& usual = out.wish.as_left ? options.plan_as_left : options.plan_as_found;
    if (out.wish.plan.empty()) out.wish.plan = usual;
    if (out.wish.plan.empty() && out.wish.as_left) out.wish.plan = plan_of_found(options, out);
    if (out.wish.plan.empty() && !out.plans.empty()) out.wish.plan = out.plans.front().name;
    if (out.wish.bench.empty() && !out.benches.empty()) out.wish.bench = out.benches.front().name;
    if (!offered(out.benches, out.wish.bench))
        return Fault{FaultCode::bad_value, "there is no bench " + in_quotes(out.wish.bench), "bench",
                     "choose one"};
    if (!offered(out.plans, out.wish.plan))
        return Fault{FaultCode::bad_value, "there is no plan " + in_quotes(out.wish.plan), "plan",
                     "choose one"};
    const auto bench = bench::load_bench(out.wish.bench, options.common.templates);
    if (!bench) return bench.fault();
    out.bench_title = bench->title;
    out.is_virtual = bench->truth.has_value();
    for (const auto* list : {&bench->instruments, &bench->hand_instruments})
        for (const auto& one : *list)
            out.instruments.push_back({one.role, one.description, one.serial, one.due_on, ""});
    if (out.wish.serial.empty()) return Done{};
    return look_at_gauge(options, out, *bench, gauge_of);
}

}  // namespace tipwright::program
