// Procedure: the coroutine behind perform_run. Not for use elsewhere.
#pragma once

#include <functional>
#include <optional>

#include "bench/run/lane_state.hpp"
#include "bench/run/pump_scale.hpp"
#include "bench/run/run.hpp"
#include "bench/run/vessel_keeper.hpp"
#include "calib/rate/step_result.hpp"

namespace tipwright::bench {

class Procedure {
public:
    Procedure(boost::asio::io_context& context, Clock& clock, Supervision& supervision, const Lane& lane,
              const calib::Gauge& gauge, const BenchDescription& bench, const calib::Plan& plan, RunLog& log,
              RunControl& control, RunCallbacks callbacks, BrokeOff where);

    Task<void> perform(RunEnd& end);
    LaneState& lane_state() { return state_; }
    WaterGuard& guard() { return guard_; }

private:
    struct Collect {
        std::size_t opening = 0;
        std::optional<std::size_t> closing;       // last tip that could close it
        std::optional<calib::StepResult> result;  // evaluated up to there
    };
    enum class CollectVerdict { go_on, close_target, close_time, close_vessel, flow_off };

    Task<Outcome> sequence(RunEnd& end);
    Task<Outcome> prime();
    Task<Outcome> wet();
    // The vessel, until so much more fits.
    Task<Outcome> drain(double wanted_g);
    Task<Outcome> measure(int step);
    Task<Outcome> settle(int step);
    Task<Result<CollectVerdict>> collect(int step, Collect& in_hand);
    CollectVerdict judge(int step, Collect& in_hand);
    // What spoilt the weighing of a collect that is to be closed.
    std::optional<std::string> disturbance(const Collect& in_hand) const;
    Task<void> make_safe(RunEnd& end);
    // After the last step: the pump stands, and the vessel must keep what it holds.
    Task<Outcome> check_tightness();
    Task<Result<double>> lost_while_standing_g(double window_s);
    // A flow that seems wrong may be right, and the tips false: adds what they say.
    void explain(Fault& fault) const;

    // more_patience_s: beyond what water needs to reach the balance through a line that is full.
    Task<Outcome> set_intensity(double intensity_mm_h, double more_patience_s = 0);
    Task<Outcome> read_climate();
    Task<Outcome> until(const std::function<bool()>& done, double deadline_s, const Fault& late);
    std::optional<Fault> trouble() const { return guard_.trouble(); }
    Outcome enter(RunState state, int step, double intensity_mm_h);

    // Flow between the first and the last tip after from_s on which a weighing may open and close.
    std::optional<calib::Uncertain> measured_flow_mL_min(double from_s) const;
    Outcome learn_flow(double from_s);
    double content_g() const;
    double interval_s(double intensity_mm_h) const;
    double time_left_s(int step, int repeat, int tips) const;
    // What of it has passed since the last tip, or since the settling or wetting began.
    double passed_s(int step) const;
    void report(int step, const Collect* in_hand, bool finished);
    const calib::PlanStep& plan_step(int step) const {
        return plan_.steps[static_cast<std::size_t>(step - 1)];
    }

    Clock& clock_;
    Lane lane_;
    const calib::Gauge& gauge_;
    const BenchDescription& bench_;
    const calib::Plan& plan_;
    RunLog& log_;
    RunControl& control_;
    RunCallbacks callbacks_;
    int first_step_;
    double collected_g_;  // before, into the vessel as it stands
    LaneState state_;
    WaterGuard guard_;
    VesselKeeper vessel_;
    std::optional<WaterPermit> permit_;

    RunState phase_ = RunState::idle;
    std::size_t phase_first_tip_ = 0;
    double phase_begun_s_ = 0;
    PumpScale scale_;
    double commanded_mL_min_ = 0;
    double set_mL_min_ = 0;
    double set_at_s_ = 0;
    int step_ = 0;    // in hand; past the last when all are measured
    int repeat_ = 1;  // run of it
    // A loss of the vessel that would matter to none of the steps measured so far.
    double harmless_loss_g_s_ = 1e300;
    std::vector<calib::StepObservation> measured_;  // of the steps finished so far
};

}  // namespace tipwright::bench
