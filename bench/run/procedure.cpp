#include "bench/run/procedure.hpp"

#include <algorithm>
#include <cmath>
#include <new>

#include "bench/run/crash_stop.hpp"
#include "bench/run/finding_note.hpp"
#include "bench/run/measured_flow.hpp"
#include "calib/base/rounding.hpp"

namespace tipwright::bench {

namespace {

// Values found by trial on the virtual bench where no source is named.
constexpr double trim_tolerance = 0.005;     // closer than this no trim is worth its disturbance
constexpr double resettle_tolerance = 0.01;  // a larger trim wants a new settle
constexpr double behind_tolerance = 0.10;    // measured this far below expected: the water goes elsewhere
constexpr double line_lag_s = 8;             // several funnel lags after a change of flow
constexpr int most_trims = 4;
constexpr double prime_allowance_mL = 120;    // dead volume of hose, funnel and siphon
constexpr int wetting_more_tips = 4;          // until the flow was weighed
constexpr double water_rise_tips = 0.3;       // what the balance shows of arriving water
constexpr double water_patience_s = 25;       // beyond the expected time to the next discharge
constexpr double harmless_share_of_U = 0.25;  // of a step, that a leak may reach unseen

std::string step_where(int step) {
    return step > 0 ? "step " + std::to_string(step) : "wetting";
}

}  // namespace

Procedure::Procedure(boost::asio::io_context& context, Clock& clock, Supervision& supervision,
                     const Lane& lane, const calib::Gauge& gauge, const BenchDescription& bench,
                     const calib::Plan& plan, RunLog& log, RunControl& control, RunCallbacks callbacks,
                     BrokeOff where)
    : clock_(clock),
      lane_(lane),
      gauge_(gauge),
      bench_(bench),
      plan_(plan),
      log_(log),
      control_(control),
      callbacks_(std::move(callbacks)),
      first_step_(where.first_step),
      collected_g_(where.collected_g),
      state_(context, gauge, bench),
      guard_(
          context, clock, lane, gauge, bench, supervision, control, &log, [this] { state_.changed.notify(); },
          [this](const std::string& text) {
              if (callbacks_.message) callbacks_.message(text);
          }),
      vessel_(
          guard_, lane_.pump, clock, bench, &log, [this] { return state_.changed.wait(); },
          [this](const std::string& text) {
              if (callbacks_.message) callbacks_.message(text);
          }) {
    if (lane_.pump_scale) scale_.learn(lane_.pump_scale->value, lane_.pump_scale->relative_u, clock_.now_s());
}

Task<Outcome> Procedure::until(const std::function<bool()>& done, double deadline_s, const Fault& late) {
    for (;;) {
        if (auto fault = trouble()) co_return *fault;
        if (done()) co_return Done{};
        if (clock_.now_s() >= deadline_s) co_return late;
        if (step_ <= static_cast<int>(plan_.steps.size())) report(step_, nullptr, false);
        co_await state_.changed.wait();
    }
}

Outcome Procedure::enter(RunState state, int step, double intensity_mm_h) {
    if (!may_follow(phase_, state)) {
        return Fault{
            FaultCode::inconsistent,
            "a run cannot go from " + std::string(name_of(phase_)) + " to " + std::string(name_of(state)),
            step_where(step), "report this as a defect"};
    }
    log_.state(clock_.now_s(), phase_, state, step, intensity_mm_h);
    phase_ = state;
    phase_first_tip_ = state_.tracker.tips().size();
    phase_begun_s_ = clock_.now_s();
    return Done{};
}

double Procedure::interval_s(double intensity_mm_h) const {
    return 3600 * gauge_.nominal_tip_mm / intensity_mm_h;
}

double Procedure::content_g() const {
    return state_.weight ? vessel_.water_g(state_.weight->mass_g) : 0;
}

Task<Outcome> Procedure::set_intensity(double intensity_mm_h, double more_patience_s) {
    const double flow = calib::flow_mL_min(intensity_mm_h, gauge_.catch_area_cm2().value);
    const double commanded = flow / scale_.value();
    if (!(commanded <= bench_.max_flow_mL_min)) {
        co_return Fault{FaultCode::bad_value,
                        "the pump would have to be set to " + calib::fixed(commanded, 1) + " mL/min for " +
                            calib::fixed(intensity_mm_h, 1) + " mm/h, above the bench's limit of " +
                            calib::fixed(bench_.max_flow_mL_min, 1) + " mL/min",
                        "plan", "leave this intensity out or use a larger pump"};
    }
    const double slug_mL = 4 * gauge_.nominal_tip_mL() + 2 * gauge_.siphon_volume_mL;
    const WaterExpected expected{water_rise_tips * gauge_.nominal_tip_mL(),
                                 water_patience_s + 60 * slug_mL / flow + more_patience_s, flow};
    auto outcome = co_await guard_.let_flow(*permit_, commanded, expected);
    if (!outcome) co_return outcome;
    if (flow != set_mL_min_) scale_.rate_changed();
    set_mL_min_ = flow;
    commanded_mL_min_ = commanded;
    set_at_s_ = clock_.now_s();
    co_return Done{};
}

Task<Outcome> Procedure::read_climate() {
    if (lane_.climate == nullptr) co_return Done{};
    auto reading = co_await lane_.climate->read();
    if (!reading) co_return reading.fault();
    log_.climate(*reading);
    state_.tracker.climate(*reading);
    co_return Done{};
}

std::optional<calib::Uncertain> Procedure::measured_flow_mL_min(double from_s) const {
    return bench::measured_flow_mL_min(state_.tracker, gauge_, bench_.metrology, plan_.coverage, from_s,
                                       clock_.now_s());
}

Outcome Procedure::learn_flow(double from_s) {
    const auto flow = measured_flow_mL_min(from_s);
    if (!flow) return Done{};
    const double seen = flow->value / commanded_mL_min_;
    const double relative_u = flow->u / flow->value;
    if (scale_.known()) {
        const double expected = scale_.value();
        const double doubt = 2 * std::hypot(relative_u, scale_.relative_u(clock_.now_s()));
        if (seen < expected * (1 - behind_tolerance - doubt)) {
            return Fault{
                FaultCode::water_behind,
                "the gauge discharges only " + calib::fixed(100 * seen / expected, 0) +
                    " % of the flow the pump has been delivering",
                lane_.pump.name(),
                "look for a blocked funnel or filter, a leak, air in the tube or an empty reservoir"};
        }
    }
    scale_.learn(seen, std::max(relative_u, 1e-4), clock_.now_s());
    log_.trim(clock_.now_s(), scale_.value(), scale_.relative_u(clock_.now_s()));
    return Done{};
}

Task<Outcome> Procedure::prime() {
    if (auto outcome = enter(RunState::priming, 0, plan_.wetting_intensity_mm_h); !outcome) co_return outcome;
    state_.tracker.begin_step(0, plan_.wetting_intensity_mm_h);
    const double allowance_s =
        60 * prime_allowance_mL /
        calib::flow_mL_min(plan_.wetting_intensity_mm_h, gauge_.catch_area_cm2().value);
    auto set = co_await set_intensity(plan_.wetting_intensity_mm_h, allowance_s);
    if (!set) co_return set;
    const double before_g = content_g();
    const Fault late{FaultCode::counter_silent, "water reaches the balance but no tip was counted",
                     lane_.counter.name(), "check the contact, its cable and which input it is on"};
    const std::function<bool()> tipped = [this] { return !state_.tracker.tips().empty(); };
    auto outcome = co_await until(tipped, clock_.now_s() + 3 * allowance_s + 60, late);
    if (!outcome && outcome.fault().code == FaultCode::counter_silent &&
        content_g() < before_g + water_rise_tips * gauge_.nominal_tip_mL()) {
        co_return Fault{FaultCode::pump_not_turning,
                        "neither water nor tips came within the time to fill the line", lane_.pump.name(),
                        "check that the pump turns, its tube and the reservoir"};
    }
    co_return outcome;
}

Task<Outcome> Procedure::wet() {
    if (auto outcome = enter(RunState::wetting, 0, plan_.wetting_intensity_mm_h); !outcome) co_return outcome;
    // The first tips fill dry surfaces; flow is learnt from the later ones.
    const std::size_t last = static_cast<std::size_t>(std::max(plan_.wetting_tips, 6));
    const double limit_s = 4 * interval_s(plan_.wetting_intensity_mm_h) * static_cast<double>(last) + 120;
    const Fault late{FaultCode::flow_not_held, "the wetting tips did not come in time", step_where(0),
                     "check the flow and the gauge's funnel"};
    const std::function<bool()> wetted = [this, last] { return state_.tracker.tips().size() > last; };
    auto outcome = co_await until(wetted, clock_.now_s() + limit_s, late);
    if (!outcome) co_return outcome;
    // Weighings want the readings after the last tip, and a siphon the pause after its last emptying.
    const auto& tips = state_.tracker.tips();
    const double from_s = std::max(tips[2].time_s, set_at_s_ + line_lag_s);
    const std::function<bool()> weighed = [this, from_s] { return measured_flow_mL_min(from_s).has_value(); };
    outcome = co_await until(weighed, clock_.now_s() + limit_s, late);
    if (!outcome) co_return outcome;
    outcome = learn_flow(from_s);
    report(0, nullptr, false);
    co_return outcome;
}

Task<Outcome> Procedure::drain(double wanted_g) {
    if (auto outcome = enter(RunState::draining, 0, 0); !outcome) co_return outcome;
    auto outcome = co_await guard_.stop();
    if (!outcome) co_return outcome;
    co_return co_await vessel_.empty(wanted_g);
}

Task<Outcome> Procedure::settle(int step) {
    const double intensity = plan_step(step).intensity_mm_h;
    // A vessel that would overflow before the step can end is emptied first.
    const double wanted_g =
        gauge_.nominal_tip_mL() * (plan_.settle_tips + 2.0 * plan_step(step).min_tips + 6) +
        gauge_.siphon_volume_mL;
    if (!vessel_.ready_for(state_.weight->mass_g, wanted_g)) {
        auto drained = co_await drain(wanted_g);
        if (!drained) co_return drained;
    }
    if (auto outcome = enter(RunState::settling, step, intensity); !outcome) co_return outcome;
    state_.tracker.begin_step(step, intensity);
    auto outcome = co_await read_climate();
    if (!outcome) co_return outcome;
    for (int trims = 0;; ++trims) {
        outcome = co_await set_intensity(intensity);
        if (!outcome) co_return outcome;
        const std::size_t first = state_.tracker.tips().size();
        const std::size_t wanted = static_cast<std::size_t>(trims == 0 ? std::max(plan_.settle_tips, 2) : 2);
        const double earliest_s = set_at_s_ + (trims == 0 ? plan_.settle_s : line_lag_s);
        const double from_s = set_at_s_ + line_lag_s;
        const Fault late{FaultCode::flow_not_held, "no steady tips within the time to settle",
                         step_where(step), "check the flow, the gauge's funnel and its contacts"};
        const std::function<bool()> settled = [&, this] {
            if (state_.tracker.tips().size() <= first + wanted || clock_.now_s() < earliest_s) return false;
            return measured_flow_mL_min(from_s).has_value();
        };
        const double limit_s = 10 * interval_s(intensity) * static_cast<double>(wanted) + 240;
        outcome = co_await until(settled, set_at_s_ + limit_s, late);
        if (!outcome) co_return outcome;
        outcome = learn_flow(from_s);
        if (!outcome) co_return outcome;
        report(step, nullptr, false);
        const double off = std::abs(commanded_mL_min_ * scale_.value() / set_mL_min_ - 1);
        if (off <= trim_tolerance) co_return Done{};
        // A deviation within what the weighing can tell (a siphon's is coarse) is trimmed, not chased.
        const bool told = off > 2 * scale_.relative_u(clock_.now_s());
        if (off <= resettle_tolerance || !told) {
            co_return co_await set_intensity(intensity);
        }
        if (trims + 1 >= most_trims) {
            co_return Fault{FaultCode::flow_not_held,
                            "the flow is still " + calib::fixed(100 * off, 1) + " % off after " +
                                std::to_string(most_trims) + " trims",
                            step_where(step), "check the pump's tube and fittings"};
        }
    }
}

std::optional<std::string> Procedure::disturbance(const Collect& in_hand) const {
    const auto findings =
        state_.tracker.what_the_tips_say(in_hand.result->observation, in_hand.opening, *in_hand.closing);
    for (const auto& finding : findings)
        if (finding.kind() == calib::FindingKind::disturbed_balance) return note_of(finding);
    return std::nullopt;
}

Task<Outcome> Procedure::measure(int step) {
    step_ = step;
    Fault given_up{FaultCode::flow_not_held, "the flow left 2 % of the set intensity in every attempt",
                   step_where(step), "check the pump's tube, the reservoir's level and the fittings"};
    for (int attempt = 0; attempt < most_trims; ++attempt) {
        auto outcome = co_await settle(step);
        if (!outcome) co_return outcome;
        if (outcome = enter(RunState::collecting, step, plan_step(step).intensity_mm_h); !outcome)
            co_return outcome;
        Collect in_hand;
        auto verdict = co_await collect(step, in_hand);
        if (!verdict) co_return verdict.fault();
        if (*verdict == CollectVerdict::flow_off) {
            log_.collect_dropped(clock_.now_s(), step, "flow more than 2 % from the set intensity");
            auto learnt = learn_flow(state_.tracker.tips()[in_hand.opening].time_s);
            if (!learnt) co_return learnt;
            continue;
        }
        if (const auto disturbed = disturbance(in_hand)) {
            log_.collect_dropped(clock_.now_s(), step, *disturbed);
            if (callbacks_.message)
                callbacks_.message("Step " + std::to_string(step) +
                                   " begins again: something touched the balance, " + *disturbed + ".");
            given_up = Fault{
                FaultCode::inconsistent, "something touched the balance in every attempt, " + *disturbed,
                step_where(step), "keep hands, draughts and drops from outside off the balance, and go on"};
            continue;
        }
        const std::string_view end = *verdict == CollectVerdict::close_target ? "target"
                                     : *verdict == CollectVerdict::close_time ? "time limit"
                                                                              : "vessel full";
        outcome = co_await read_climate();
        if (!outcome) co_return outcome;
        log_.collect_closed(clock_.now_s(), step, repeat_, *in_hand.closing, end);
        harmless_loss_g_s_ =
            std::min(harmless_loss_g_s_, harmless_share_of_U * in_hand.result->error_expanded.U / 100 *
                                             in_hand.result->flow_mL_min->value / 60);
        auto learnt = learn_flow(state_.tracker.tips()[in_hand.opening].time_s);
        if (!learnt) co_return learnt;
        measured_.push_back(in_hand.result->observation);
        report(step, &in_hand, true);
        co_return Done{};
    }
    co_return given_up;
}

Task<Outcome> Procedure::sequence(RunEnd& end) {
    const Fault silent{FaultCode::no_answer, "no reading came", lane_.balance.name(),
                       "check power, cable, address and that the balance prints"};
    const std::function<bool()> weighed = [this] { return state_.weight.has_value(); };
    end.steps_done = first_step_ - 1;
    auto permit = co_await guard_.take();
    if (!permit) co_return permit.fault();
    permit_.emplace(std::move(*permit));
    Outcome outcome = Done{};
    outcome = co_await until(weighed, clock_.now_s() + 30, silent);
    if (!outcome) co_return outcome;
    vessel_.found(state_.weight->mass_g, collected_g_);
    if (first_step_ > static_cast<int>(plan_.steps.size())) co_return Done{};
    const double first_water_g =
        prime_allowance_mL + gauge_.nominal_tip_mL() * (std::max(plan_.wetting_tips, 6) + wetting_more_tips) +
        gauge_.siphon_volume_mL;
    if (bench_.has_drain_valve || !vessel_.ready_for(state_.weight->mass_g, first_water_g)) {
        outcome = co_await drain(first_water_g);
        if (!outcome) co_return outcome;
    } else {
        vessel_.watch();
    }
    outcome = co_await read_climate();
    if (!outcome) co_return outcome;
    outcome = co_await prime();
    if (!outcome) co_return outcome;
    outcome = co_await wet();
    if (!outcome) co_return outcome;
    for (int step = first_step_; step <= static_cast<int>(plan_.steps.size()); ++step) {
        for (repeat_ = 1; repeat_ <= plan_step(step).repeats; ++repeat_) {
            outcome = co_await measure(step);
            if (!outcome) co_return outcome;
        }
        end.steps_done = step;
    }
    ++step_;
    outcome = co_await check_tightness();
    co_return outcome;
}

Task<void> Procedure::perform(RunEnd& end) {
    std::optional<Fault> crash;
    try {
        // Whatever it waits for, the guard does not wait with it.
        const Outcome outcome = co_await guard_.carry_out([&] { return sequence(end); });
        if (!outcome) end.fault = outcome.fault();
    } catch (const std::bad_alloc&) {
        end_without_memory();
        crash = without_memory();
    } catch (const std::exception& error) {
        crash = Fault{FaultCode::inconsistent, error.what(), "run", "report this as a defect"};
    }
    if (crash) end.fault = crash;
    end.complete = !end.fault;
    co_await make_safe(end);
    if (end.complete && log_.failure()) {
        end.complete = false;
        end.fault = log_.failure();
    }
}

}  // namespace tipwright::bench
