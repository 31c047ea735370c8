// Roles: what the run asks of instruments, whatever they are and however they are reached.
// Readings carry the displayed text, so that the resolution comes from what was shown.
// Every call may fail with link_lost, no_answer, garbled_answer or overload; none returns a stand-in.
#pragma once

#include <cstdint>
#include <functional>
#include <string>

#include "bench/clock/clock.hpp"
#include "bench/instruments/water_permit.hpp"
#include "calib/base/fault.hpp"

namespace tipwright::bench {

struct WeightReading {
    double mass_g = 0;
    bool stable = false;
    int decimals = 0;      // as displayed, in grams
    std::string text;      // as displayed
    double arrived_s = 0;  // bench time
};

struct ContactEdge {
    int contact = 1;      // 1 or 2
    bool closed = false;  // electrical state after the edge
    double time_s = 0;    // device clock mapped to bench time
    std::uint64_t device_us = 0;
    std::uint32_t sequence = 0;
};

struct ClimateReading {
    double water_temperature_C = 20;
    double air_temperature_C = 20;
    double air_pressure_hPa = 1013.25;
    double relative_humidity_percent = 50;
    double arrived_s = 0;
};

// What became of an instrument's link while it was in use.
enum class LinkChange {
    lost,              // closed; opening it again is tried, or not
    returned,          // open again, and the instrument said that it is the same
    returned_unknown,  // open again, and nobody can tell who answers there; a pump was told to stop
    stranger,          // another instrument answered. After a loss: closed, and nothing more is sent. Never
                       // lost: whoever is there was told to stop, and hears nothing else any more
    noise,             // it gave another answer to the question who it is, and then its own again
    taken              // open, and another program uses it too
};
using LinkListener = std::function<void(LinkChange change, const std::string& what)>;

// Of an instrument that cannot be asked who it is.
Fault unidentified(const std::string& name);

class Instrument {
public:
    virtual ~Instrument() = default;
    virtual std::string name() const = 0;
    // What the instrument says it is. inconsistent when its profile does not tell how to ask.
    // The answer is remembered (a pump's once it was given twice): when its link is lost and comes back, it
    // is asked again before anything else is sent.
    virtual Task<Result<std::string>> identify();
    // The listener is told of the link's loss and return; an empty one ends that.
    virtual void on_link_change(LinkListener listener);
};

class Pump : public Instrument {
public:
    // Commanded flow, by the pump's own scale. Acknowledged by the pump, or a Fault. The permit outlives the
    // call.
    Task<Outcome> set_flow(const WaterPermit& permit, double flow_mL_min);
    virtual Task<Outcome> stop() = 0;
    // Opens or closes the vessel's drain. unsupported by a bench without one: operator empties it.
    virtual Task<Outcome> set_drain(bool open) = 0;
    // Between a question and the end of its answer, by its profile; longer is a failure.
    virtual double longest_answer_s() const { return 0.5; }
    // A pump that stops by itself when it hears nothing for so long, once armed; 0: this one does not.
    // keep_alive ends with Fault interrupted when another command overtook it.
    virtual double own_timeout_s() const { return 0; }
    virtual Task<Outcome> arm_own_timeout() { co_return Done{}; }
    virtual Task<Outcome> keep_alive() { co_return Done{}; }
    // Whether the same pump still answers, where it can be asked who it is; nothing is asked while another
    // command waits for its answer. Where another answer comes than its own (to identify too), whoever is
    // there is told to stop before anything else, then asked again. Two answers that agree are another
    // pump's: link_lost. Its own after all, or none that agree: garbled_answer.
    virtual Task<Outcome> check_identity() { co_return Done{}; }

protected:
    // The command as this pump takes it.
    virtual Task<Outcome> send_flow(double flow_mL_min) = 0;
};

class Balance : public Instrument {
public:
    // Next reading: the next print of a balance that prints by itself, or one asked for.
    virtual Task<Result<WeightReading>> next() = 0;
    virtual Task<Outcome> tare() = 0;
    // Between two readings, by its profile; longer is a failure.
    virtual double longest_pause_s() const { return 10; }
};

class TipCounter : public Instrument {
public:
    // Next edge of any contact. Waits as long as none comes, but the counter's heartbeat (one line
    // every few seconds) must: its absence is a Fault counter_silent, a lost line garbled_answer.
    virtual Task<Result<ContactEdge>> next() = 0;
    // Standard uncertainty of when an edge was, as measured on this machine. 0: the bench description's
    // holds.
    virtual double edge_time_u_s() const { return 0; }
};

class ClimateSensor : public Instrument {
public:
    virtual Task<Result<ClimateReading>> read() = 0;
};

}  // namespace tipwright::bench
