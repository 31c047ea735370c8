#include "bench/page/live/live_run.hpp"

#include <algorithm>
#include <charconv>
#include <utility>

#include "bench/run/newest_result.hpp"
#include "bench/run/water_guard.hpp"

namespace tipwright::page {

namespace {

using bench::RunState;

constexpr std::size_t most_remarks = 200;

template <class Number>
Number number_of(const bench::JournalEntry& entry, std::string_view name) {
    const std::string_view text = entry.field(name);
    Number value{};
    std::from_chars(text.data(), text.data() + text.size(), value);
    return value;
}

std::optional<RunState> state_named(std::string_view name) {
    for (const RunState state :
         {RunState::idle, RunState::priming, RunState::wetting, RunState::draining, RunState::settling,
          RunState::collecting, RunState::stopping, RunState::ended})
        if (bench::name_of(state) == name) return state;
    return std::nullopt;
}

}  // namespace

struct LiveRun::State {
    RunFacts facts;
    bench::Replay replay;
    bool described = false;
    bool closed = false;
    bool broken = false;
    bool complete = false;
    bool may_have_changed = false;
    bool pump_unsure = false;
    std::optional<std::size_t> opening;    // of the collect whose result is shown
    std::optional<std::size_t> looked_at;  // its tip judged last
    std::size_t first_tip_of_step = 0;
    std::vector<calib::StepObservation> measured;

    void describe() {
        const bench::ReplayedRun& run = replay.so_far();
        facts.serial = run.gauge.serial;
        facts.kind_title = run.gauge.kind_title;
        facts.model = run.gauge.model;
        facts.station = run.gauge.station;
        facts.customer = run.gauge.customer.name;
        facts.plan_name = run.plan.plan.name;
        facts.bench_title = run.bench.title;
        facts.operator_name = run.bench.operator_name;
        facts.started_at = run.started_at;
        facts.is_virtual = run.bench.truth.has_value();
        facts.invented = run.bench.invented || run.gauge.invented || facts.is_virtual;
        facts.contacts = static_cast<int>(run.gauge.gauge.contacts.size());
        facts.steps = static_cast<int>(run.plan.plan.steps.size());
        facts.target_U_percent = run.plan.plan.target_U_percent;
        facts.vessel_capacity_g = run.bench.vessel_capacity_g;
        facts.planned_s = bench::time_left_s(run.plan.plan, run.gauge.gauge, {});
        described = true;
    }

    const std::vector<calib::Tip>* tips() const {
        return replay.tracker() ? &replay.tracker()->tips() : nullptr;
    }

    void forget_collect() {
        opening.reset();
        looked_at.reset();
        facts.tips = 0;
        facts.measured_intensity_mm_h.reset();
        facts.volume_per_tip_mL.reset();
        facts.error_percent.reset();
        facts.error_U_percent.reset();
    }

    void enter(const bench::JournalEntry& entry) {
        if (const auto state = state_named(entry.field("to"))) facts.state = *state;
        const int step = number_of<int>(entry, "step");
        if (facts.state == RunState::settling || facts.state == RunState::priming) {
            if (step != facts.step) facts.repeat = 1;
            facts.step = step;
            forget_collect();
            if (tips()) first_tip_of_step = tips()->size();
        }
        facts.set_intensity_mm_h = number_of<double>(entry, "intensity_mm_h");
        const auto& steps = replay.so_far().plan.plan.steps;
        facts.repeats = facts.step >= 1 && facts.step <= facts.steps
                            ? steps[static_cast<std::size_t>(facts.step - 1)].repeats
                            : 1;
    }

    void show(const calib::StepResult& result) {
        facts.volume_per_tip_mL = result.volume_per_tip_mL.value;
        facts.error_percent = result.error_percent.value;
        facts.error_U_percent = result.error_expanded.U;
        if (result.reference_intensity_mm_h)
            facts.measured_intensity_mm_h = result.reference_intensity_mm_h->value;
    }

    void collect(const bench::JournalEntry& entry) {
        const std::string_view did = entry.field("did");
        if (did == "open") {
            forget_collect();
            opening = replay.opening();
            facts.repeat = std::max(1, number_of<int>(entry, "repeat"));
        } else if (did == "close") {
            const auto& observations = replay.so_far().observations;
            if (observations.empty()) return;
            measured = observations;
            const calib::StepObservation& last = observations.back();
            const bench::ReplayedRun& run = replay.so_far();
            if (const auto result = calib::evaluate_step(last, run.gauge.gauge, run.bench.metrology,
                                                         run.plan.plan.coverage, last.scatter))
                show(*result);
            facts.tips = last.tips;
            facts.steps_done = last.step;
            opening.reset();
            ++facts.changes;
        } else {
            forget_collect();
            ++facts.changes;
        }
    }

    // What is to be done now stands in the newest: the oldest make room.
    void remark(std::string_view text, double at_s) {
        if (facts.remarks.size() == most_remarks) {
            facts.remarks.erase(facts.remarks.begin());
            facts.remarked_at_s.erase(facts.remarked_at_s.begin());
            ++facts.remarks_left_out;
        }
        facts.remarks.emplace_back(text);
        facts.remarked_at_s.push_back(at_s);
    }

    void count() {
        const auto* all = tips();
        if (!all) return;
        facts.all_tips = static_cast<int>(all->size());
        facts.contact_tips = {};
        for (std::size_t k = std::min(first_tip_of_step, all->size()); k < all->size(); ++k)
            for (std::size_t c = 0; c < calib::max_contacts; ++c)
                facts.contact_tips[c] += (*all)[k].seen_by[c];
        if (!opening) return;
        if (all->size() > *opening) facts.tips = static_cast<int>(all->size() - 1 - *opening);
        const bench::ReplayedRun& run = replay.so_far();
        const auto newest = bench::newest_result(
            {*replay.tracker(), run.gauge.gauge, run.bench.metrology, run.plan.plan.coverage}, measured,
            *opening, looked_at, facts.time_s);
        if (!newest) return;
        looked_at = newest->closing;
        show(newest->result);
    }

    void judge(bool held) {
        if (broken)
            facts.stand = Stand::unreadable;
        else if (closed)
            facts.stand = complete ? Stand::complete : Stand::broken_off;
        else if (!held)
            facts.stand = Stand::abandoned;
        else
            facts.stand = described ? Stand::running : Stand::begins;
        facts.hand = Hand::none;
        const bool goes_on = facts.stand == Stand::running;
        if (pump_unsure)
            facts.hand = Hand::pull_plug;
        else if (goes_on && facts.state == RunState::draining && !replay.so_far().bench.has_drain_valve)
            facts.hand = Hand::empty_vessel;
        else if (facts.stand == Stand::abandoned || facts.stand == Stand::broken_off)
            facts.hand = facts.stand == Stand::abandoned && facts.flow_mL_min > 0 && !facts.is_virtual
                             ? Hand::pull_plug
                             : Hand::look_after;
    }
};

LiveRun::LiveRun(std::string id, int number) : state_(std::make_unique<State>()) {
    state_->facts.id = std::move(id);
    state_->facts.number = number;
}
LiveRun::~LiveRun() = default;
LiveRun::LiveRun(LiveRun&&) noexcept = default;
LiveRun& LiveRun::operator=(LiveRun&&) noexcept = default;

Outcome LiveRun::take(const bench::JournalEntry& entry) {
    State& s = *state_;
    if (s.broken) return *s.facts.fault;
    if (auto taken = s.replay.take(entry); !taken) {
        unreadable(taken.fault());
        return taken.fault();
    }
    s.facts.time_s = entry.time_s;
    if (!s.described && s.replay.begun()) s.describe();
    s.may_have_changed = true;
    if (entry.kind == "weight") {
        s.facts.mass_g = number_of<double>(entry, "mass_g");
    } else if (entry.kind == "pump") {
        s.facts.flow_mL_min = number_of<double>(entry, "flow_mL_min");
        // It took a command: whatever was doubted before, it answers.
        s.pump_unsure = false;
    } else if (entry.kind == "state") {
        s.enter(entry);
    } else if (entry.kind == "collect") {
        s.collect(entry);
    } else if (entry.kind == "remark") {
        const std::string_view text = entry.field("text");
        if (text.starts_with(bench::WaterGuard::pull_the_plug)) s.pump_unsure = true;
        s.remark(text, entry.time_s);
    } else if (entry.kind == "fault") {
        const auto code = fault_code_named(entry.field("code"));
        s.facts.fault = Fault{code.value_or(FaultCode::inconsistent), std::string(entry.field("what")),
                              std::string(entry.field("where")), std::string(entry.field("remedy"))};
    } else if (entry.kind == "close") {
        s.closed = true;
        s.complete = entry.field("complete") == "true";
        s.facts.ended_at = std::string(entry.field("ended_at"));
        ++s.facts.changes;
    } else if (entry.kind == "continue") {
        s.closed = false;
        s.complete = false;
        s.facts.judged = Judged::not_yet;
        s.facts.ended_at.clear();
        s.facts.fault.reset();
        s.pump_unsure = false;
        s.forget_collect();
        s.first_tip_of_step = 0;
        s.measured = s.replay.so_far().observations;
        ++s.facts.changes;
    }
    return Done{};
}

void LiveRun::unreadable(const Fault& fault) {
    state_->broken = true;
    state_->facts.fault = fault;
}

const RunFacts& LiveRun::facts(bool held) {
    State& s = *state_;
    if (s.may_have_changed && s.described && !s.broken) {
        s.count();
        s.facts.findings = s.replay.so_far().findings;
        for (const auto& observation : s.replay.so_far().observations)
            s.facts.findings.insert(s.facts.findings.end(), observation.findings.begin(),
                                    observation.findings.end());
        const bool between = s.facts.state == RunState::collecting && !s.opening && s.facts.changes > 0;
        const bool last = s.facts.repeat >= s.facts.repeats;
        const bench::PlaceInPlan place =
            between && last ? bench::PlaceInPlan{RunState::settling, s.facts.step + 1, 1, 0}
                            : bench::PlaceInPlan{s.facts.state, s.facts.step, s.facts.repeat, s.facts.tips};
        s.facts.time_left_s =
            s.closed ? 0
                     : bench::time_left_s(s.replay.so_far().plan.plan, s.replay.so_far().gauge.gauge, place);
    }
    s.may_have_changed = false;
    s.judge(held);
    return s.facts;
}

bool LiveRun::ended() const {
    return state_->closed;
}

bool LiveRun::waits_for_verdict() const {
    const State& s = *state_;
    return s.closed && s.complete && !s.broken && s.facts.judged == Judged::not_yet;
}

void LiveRun::being_judged() {
    state_->facts.judged = Judged::at_work;
}

void LiveRun::judged(const Result<CameOut>& came_out) {
    // One that went on meanwhile is judged when it ends again.
    if (state_->facts.judged != Judged::at_work) return;
    state_->facts.judged = came_out ? Judged::done : Judged::failed;
    if (came_out) state_->facts.came_out = *came_out;
}

const bench::ReplayedRun& LiveRun::so_far() const {
    return state_->replay.so_far();
}

bool LiveRun::begun() const {
    return state_->described;
}

LiveRun::Minutes LiveRun::last_minutes(double seconds) const {
    Minutes out;
    const bench::StepTracker* tracker = state_->replay.tracker();
    if (!tracker) return out;
    const double from_s = state_->facts.time_s - seconds;
    for (const auto& point : tracker->weights())
        if (point.time_s >= from_s) out.weights.push_back(point);
    for (const auto& tip : tracker->tips())
        if (tip.time_s >= from_s) out.tips_s.push_back(tip.time_s);
    return out;
}

}  // namespace tipwright::page
