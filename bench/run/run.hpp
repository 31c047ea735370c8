// Run: carries out a plan on one lane: prime, wet, then for each step settle and collect, draining the
// vessel when it must, and stop. However it ends, the pump is stopped first.
// The flow is held by trimming the pump from the balance; a collect ends when its expanded uncertainty
// has reached the plan's target and its least even number of tips is in, or at its time limit.
#pragma once

#include <functional>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "bench/clock/clock.hpp"
#include "bench/descriptions/descriptions.hpp"
#include "bench/instruments/roles.hpp"
#include "bench/run/run_log.hpp"
#include "bench/run/sequence.hpp"
#include "calib/base/fault.hpp"

namespace tipwright::bench {

// Delivered over commanded flow as an earlier calibration of the pump found it, relative standard
// uncertainty.
struct KnownPumpScale {
    double value = 1;
    double relative_u = 0;
};

// Instrument to what it said it is, in quotes as the journal has it.
using KnownIdentities = std::map<std::string, std::string>;

struct Lane {
    Pump& pump;
    Balance& balance;
    TipCounter& counter;
    ClimateSensor* climate = nullptr;          // none: the bench description's conditions hold
    std::optional<KnownPumpScale> pump_scale;  // none: learnt from the first tips
    KnownIdentities identities = {};           // of a run that is resumed
};

// What a person watching wants to see. Absent numbers are not known yet.
struct Progress {
    RunState state = RunState::idle;
    int step = 0;
    int steps = 0;
    int repeat = 1;  // run of the step, of so many
    int repeats = 1;
    double set_intensity_mm_h = 0;
    std::optional<double> measured_intensity_mm_h;
    int tips = 0;
    std::vector<int>
        contact_tips;  // while wetting and settling: how many of them each of several contacts saw
    double mass_g = 0;
    double vessel_g = 0;  // water in the vessel
    std::optional<double> volume_per_tip_mL;
    std::optional<double> error_percent;
    std::optional<double> error_U_percent;
    bool step_finished = false;
    double time_s = 0;
    double time_left_s = 0;
};

struct RunCallbacks {
    std::function<void(const Progress&)> progress;
    // Something the operator must do or know now.
    std::function<void(const std::string&)> message;
};

struct RunEnd {
    bool complete = false;
    std::optional<Fault> fault;  // why not
    int steps_done = 0;
    double noticed_s = 0;         // bench time at which the run turned to its end
    bool stop_confirmed = false;  // the balance went quiet after the pump was stopped
};

class Supervision;

// Lets a signal handler end a run from outside.
class RunControl {
public:
    void request_stop(Fault why) {
        ++requests_;
        if (!why_) why_ = std::move(why);
        if (on_request_) on_request_();
    }
    const std::optional<Fault>& requested() const { return why_; }
    // How often: a second time means that the operator does not want to wait for the confirmation.
    int requests() const { return requests_; }
    void notify_with(std::function<void()> on_request) { on_request_ = std::move(on_request); }

private:
    std::optional<Fault> why_;
    int requests_ = 0;
    std::function<void()> on_request_;
};

// Where an earlier run broke off that this one goes on with.
struct BrokeOff {
    int first_step = 1;      // the steps before it were measured before; past the last: nothing is left to do
    double collected_g = 0;  // water in the vessel
};

Task<RunEnd> perform_run(boost::asio::io_context& context, Clock& clock, Supervision& supervision, Lane lane,
                         const calib::Gauge& gauge, const BenchDescription& bench, const calib::Plan& plan,
                         RunLog& log, RunControl& control, RunCallbacks callbacks, BrokeOff where = {});

}  // namespace tipwright::bench
