// WaterGuard: owns "this pump may run". Whoever wants water takes it before the first command: it stops the
// pump, learns who the instruments are, arms the pump's own time limit and gives the permit that
// Pump::set_flow wants. From then on it watches: the supervision's signals and watchdog, the interlocks of
// balance, vessel and time, the age of the readings, water that must come, the pump's answers, links that are
// lost or come back. Whatever may wait while water flows is carried out by it: it abandons the work the
// moment trouble() says why. It never stops by itself: whoever holds the permit ends by make_safe, and where
// water flowed by confirm_stopped. Times: bench seconds. Errors: as Fault, named after the instrument.
#pragma once

#include <boost/asio/steady_timer.hpp>
#include <chrono>
#include <functional>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>

#include "bench/clock/signal.hpp"
#include "bench/instruments/water_permit.hpp"
#include "bench/links/link.hpp"
#include "bench/run/interlocks.hpp"
#include "bench/run/run.hpp"
#include "bench/run/supervision.hpp"

namespace tipwright::bench {

// What must come after the pump was set: the balance must move by this much within the patience. 0: not
// watched.
struct WaterExpected {
    double rise_g = 1;
    double patience_s = 0;
    double delivered_mL_min = 0;  // what comes out, where more is known than what the pump is set to
};

class WaterGuard {
public:
    // The log may be null: work outside a run keeps no journal. `changed` and `tell` may be empty.
    WaterGuard(boost::asio::io_context& context, Clock& clock, const Lane& lane, const calib::Gauge& gauge,
               const BenchDescription& bench, Supervision& supervision, RunControl& control, RunLog* log,
               std::function<void()> changed, std::function<void(const std::string&)> tell);
    WaterGuard(const WaterGuard&) = delete;
    WaterGuard& operator=(const WaterGuard&) = delete;
    ~WaterGuard();

    // Once. Faults: of a pump that does not take its commands.
    Task<Result<WaterPermit>> take();
    // Asks the pump who it is. Fault: another answers than the lane knows.
    Task<Outcome> recognise_pump();
    // Carries the work out until its end, or until no water may flow any more: the work is then abandoned
    // wherever it waits, be it for an instrument that is silent. The Fault that came first. What the work
    // throws comes on.
    Task<Outcome> carry_out(std::function<Task<Outcome>()> work);
    Task<Outcome> let_flow(const WaterPermit& permit, double flow_mL_min, WaterExpected expected);
    // Bytes of somebody's own, which may set any flow. `ending`: what ends a message to this pump, empty
    // where nothing does. Until a message is ended nothing else goes out, but for the command to stop, before
    // which it is ended.
    Task<Outcome> let_send(const WaterPermit& permit, Link& pump_link, std::span<const std::byte> bytes,
                           std::string_view ending);
    // In the middle of the work; watching for water ends.
    Task<Outcome> stop();
    // At the end, whatever happened: no permit holds any more; the pump is told until it answers, and where
    // it does not, the person is told within two seconds to pull its plug. Fault: of the pump that did not
    // answer.
    Task<Outcome> make_safe();
    // Once the pump was told to stop: whether the balance stands still for longer than the next discharge
    // would take to come. Waits for that, not for ever. Needs somebody who reads the balance meanwhile.
    Task<bool> confirm_quiet(bool told_to_stop);
    // At the end, unless that was confirmed already; where it cannot be, the person is sent to the plug.
    Task<bool> confirm_stopped(bool told_to_stop);
    // Confirmed since the last flow.
    bool quiet() const { return quiet_; }
    bool water_flowed() const { return delivered_mL_min_ > 0; }
    // Sends the person to the pump's plug, once.
    void warn(const std::string& why);

    // Every reading, and the failures of the balance.
    void weight(const WeightReading& reading);
    void failed(const Fault& fault) { set_fault(fault); }
    Interlocks& interlocks() { return interlocks_; }
    // The newest reading unless it is too old to be one.
    std::optional<WeightReading> weight_now() const;
    bool flowing() const { return flow_mL_min_ > 0; }

    // The first thing that failed.
    const std::optional<Fault>& fault() const { return fault_; }
    // Why no water may flow any more.
    std::optional<Fault> trouble() const;

    // Runs until cancelled: signs of life, for the pump and from it.
    Task<void> keep_pump_alive();

    static constexpr const char* pull_the_plug = "PULL THE PUMP'S PLUG NOW";

private:
    // Open as long as the pump owes an answer: one that is owed too long ends the work, and sends the person
    // to the pump's plug.
    class Asked;

    Task<void> learn(Instrument& instrument);
    // Of a pump that was known: whether it is that one still. garbled_answer: nobody can tell.
    Task<Outcome> same_pump();
    Task<void> end_half_message();
    void watch_link(Instrument& instrument, bool is_pump);
    void met_stranger(const std::string& name, const std::string& what, const char* what_it_hears);
    void link_changed(const std::string& name, bool is_pump, LinkChange change, const std::string& what);
    void remark(const std::string& text);
    void cry(const std::string& why);
    void set_fault(Fault fault);
    void tell_change();
    void await_answer();
    void silent_for(double real_s);

    boost::asio::io_context& context_;
    Clock& clock_;
    Lane lane_;
    const BenchDescription& bench_;
    double discharge_mL_;  // what may come at once
    Supervision& supervision_;
    RunControl& control_;
    RunLog* log_;
    Signal news_;  // for carry_out
    std::function<void()> changed_;
    std::function<void(const std::string&)> tell_;

    Interlocks interlocks_;
    std::shared_ptr<WaterPermit::State> permit_;
    std::optional<Fault> fault_;
    std::optional<WeightReading> weight_;
    double stale_s_;
    double flow_mL_min_ = 0;
    double flow_since_s_ = 0;
    double delivered_mL_min_ = 0;  // at the last flow; 0: there was none
    bool quiet_ = false;
    WaterExpected expected_;
    double mark_g_ = 0;  // reading at the last seen move of the balance
    double mark_s_ = 0;
    bool time_limit_armed_ = false;
    bool pump_known_ = false;  // it has said who it is
    bool pump_cut_off_ = false;
    bool pump_is_another_ = false;  // than the lane knows, or than it was
    bool stop_whoever_ = false;  // though it is another: its link was never lost, so its answer may deceive
    bool pump_unknown_ = false;  // its link was lost and came back, and it does not say who it is
    Link* half_link_ = nullptr;  // on which a person's message is not ended yet
    std::string half_ending_;
    bool safe_ = false;
    bool warned_ = false;

    // How long the pump has owed an answer. Its timer's wait may outlive this.
    boost::asio::steady_timer silence_;
    std::optional<std::chrono::steady_clock::time_point> silent_since_;
    double silent_since_s_ = 0;
    int questions_ = 0;
    bool abandoned_ = false;  // the pump was asked something whose answer nobody waits for any more
    std::shared_ptr<bool> alive_ = std::make_shared<bool>(true);
};

}  // namespace tipwright::bench
