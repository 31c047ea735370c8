// The collect of one step: from its opening tip to the tip that closes it.
#include <algorithm>
#include <cmath>

#include "bench/run/newest_result.hpp"
#include "bench/run/procedure.hpp"
#include "calib/base/rounding.hpp"
#include "calib/rate/capability_floor.hpp"

namespace tipwright::bench {

namespace {

constexpr double flow_tolerance = 0.02;
constexpr int flow_check_tips = 6;
// Kept free in the vessel, in tips: what is still on its way when the pump stops.
constexpr double vessel_margin_tips = 6;

}  // namespace

Task<Result<Procedure::CollectVerdict>> Procedure::collect(int step, Collect& in_hand) {
    const calib::PlanStep& wanted = plan_step(step);
    const auto& tips = state_.tracker.tips();
    const double asked_s = clock_.now_s();
    const Fault late{FaultCode::time_limit, "no tip came on which the collect could open",
                     "step " + std::to_string(step), "check the flow and the contacts"};
    // The newest tip of the settle opens the collect when it may: an interval saved.
    const std::size_t newest = tips.size() - 1;
    const std::function<bool()> opened = [&, this] {
        for (std::size_t k = newest; k < tips.size(); ++k) {
            if (tips[k].time_s >= set_at_s_ && state_.tracker.may_be_edge(k, clock_.now_s())) {
                in_hand.opening = k;
                return true;
            }
        }
        return false;
    };
    const double opening_limit_s = 20 * interval_s(wanted.intensity_mm_h) + 120;
    auto outcome = co_await until(opened, asked_s + opening_limit_s, late);
    if (!outcome) co_return outcome.fault();
    log_.collect_opened(clock_.now_s(), step, repeat_, in_hand.opening);

    for (;;) {
        if (auto fault = trouble()) co_return *fault;
        const CollectVerdict verdict = judge(step, in_hand);
        if (verdict != CollectVerdict::go_on) {
            if (verdict == CollectVerdict::flow_off || in_hand.result) co_return verdict;
            if (verdict == CollectVerdict::close_vessel) {
                co_return Fault{FaultCode::vessel_full, "the vessel is full before the step has enough tips",
                                "step " + std::to_string(step), "use a larger vessel or fewer tips"};
            }
            co_return Fault{FaultCode::time_limit, "the time limit came before two tips did",
                            "step " + std::to_string(step), "raise the plan's time limit for this intensity"};
        }
        report(step, &in_hand, false);
        co_await state_.changed.wait();
    }
}

Procedure::CollectVerdict Procedure::judge(int step, Collect& in_hand) {
    const calib::PlanStep& wanted = plan_step(step);
    const auto& tips = state_.tracker.tips();
    if (auto newest = newest_result({state_.tracker, gauge_, bench_.metrology, plan_.coverage}, measured_,
                                    in_hand.opening, in_hand.closing, clock_.now_s())) {
        in_hand.closing = newest->closing;
        in_hand.result = std::move(newest->result);
    }
    if (in_hand.result) {
        const calib::StepResult& result = *in_hand.result;
        const int count = result.observation.tips;
        const auto& flow = *result.flow_mL_min;
        if (count >= flow_check_tips &&
            std::abs(flow.value / set_mL_min_ - 1) - 2 * flow.u / flow.value > flow_tolerance) {
            return CollectVerdict::flow_off;
        }
        // Without a known scatter the uncertainty is not one yet.
        if (count >= wanted.min_tips && result.observation.scatter.dof > 0 &&
            calib::measured_U_percent(result, plan_.coverage) <= plan_.target_U_percent) {
            return CollectVerdict::close_target;
        }
    }
    if (clock_.now_s() - tips[in_hand.opening].time_s > wanted.time_limit_s)
        return CollectVerdict::close_time;
    if (content_g() + vessel_margin_tips * gauge_.nominal_tip_mL() + gauge_.siphon_volume_mL >
        bench_.vessel_capacity_g) {
        return CollectVerdict::close_vessel;
    }
    return CollectVerdict::go_on;
}

double Procedure::time_left_s(int step, int repeat, int tips_in) const {
    return bench::time_left_s(plan_, gauge_, {phase_, step, repeat, tips_in});
}

double Procedure::passed_s(int step) const {
    const double now_s = clock_.now_s();
    const double rate_mm_h = step > 0 ? plan_step(step).intensity_mm_h : plan_.wetting_intensity_mm_h;
    switch (phase_) {
        case RunState::collecting: {
            const auto& tips = state_.tracker.tips();
            return tips.empty() ? 0 : std::clamp(now_s - tips.back().time_s, 0.0, interval_s(rate_mm_h));
        }
        case RunState::settling:
            return std::clamp(now_s - phase_begun_s_, 0.0,
                              std::max(plan_.settle_s, plan_.settle_tips * interval_s(rate_mm_h)));
        case RunState::wetting:  // what is left of it comes before the steps
            return std::min(now_s - phase_begun_s_ - plan_.wetting_tips * interval_s(rate_mm_h), 0.0);
        default:
            return 0;
    }
}

void Procedure::report(int step, const Collect* in_hand, bool finished) {
    if (!callbacks_.progress) return;
    Progress progress;
    progress.state = phase_;
    progress.step = step;
    progress.steps = static_cast<int>(plan_.steps.size());
    if (step > 0) {
        progress.repeat = repeat_;
        progress.repeats = plan_step(step).repeats;
    }
    if (phase_ != RunState::draining)
        progress.set_intensity_mm_h =
            step > 0 ? plan_step(step).intensity_mm_h : plan_.wetting_intensity_mm_h;
    progress.mass_g = content_g();
    progress.vessel_g = content_g();
    progress.time_s = clock_.now_s();
    progress.step_finished = finished;
    if (in_hand != nullptr) {
        progress.tips = static_cast<int>(state_.tracker.tips().size() - 1 - in_hand->opening);
        if (in_hand->result) {
            const calib::StepResult& result = *in_hand->result;
            if (finished) progress.tips = result.observation.tips;
            progress.mass_g = result.mass_g;
            progress.volume_per_tip_mL = result.volume_per_tip_mL.value;
            progress.error_percent = result.error_percent.value;
            progress.error_U_percent = result.error_expanded.U;
            if (result.reference_intensity_mm_h)
                progress.measured_intensity_mm_h = result.reference_intensity_mm_h->value;
        }
    }
    // Of the wetting and the settling, so that whoever watches sees the contacts count.
    if (in_hand == nullptr && (phase_ == RunState::wetting || phase_ == RunState::settling)) {
        const auto& tips = state_.tracker.tips();
        progress.tips = static_cast<int>(tips.size() - phase_first_tip_);
        if (gauge_.contacts.size() > 1) progress.contact_tips.assign(gauge_.contacts.size(), 0);
        for (std::size_t k = phase_first_tip_; k < tips.size(); ++k)
            for (std::size_t contact = 0; contact < progress.contact_tips.size(); ++contact)
                progress.contact_tips[contact] += tips[k].seen_by[contact] ? 1 : 0;
    }
    const bool last_run = step < 1 || repeat_ >= plan_step(step).repeats;
    progress.time_left_s =
        finished && last_run ? time_left_s(step + 1, 1, 0) : time_left_s(step, repeat_, progress.tips);
    if (!finished) progress.time_left_s = std::max(0.0, progress.time_left_s - passed_s(step));
    callbacks_.progress(progress);
}

}  // namespace tipwright::bench
