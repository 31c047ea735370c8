// Who answers on the links: learnt when the pump is taken, asked again where another may have been plugged
// in.
#include <utility>

#include "bench/instruments/virtual_identity.hpp"
#include "bench/run/water_guard.hpp"

namespace tipwright::bench {

Task<Outcome> WaterGuard::recognise_pump() {
    co_await learn(lane_.pump);
    if (fault_) co_return *fault_;
    co_return Done{};
}

// Who it is, so that it can be known again. One that cannot be asked is met with more care when its link
// comes back.
Task<void> WaterGuard::learn(Instrument& instrument) {
    Result<std::string> answer = co_await instrument.identify();
    // An instrument that is read by asking may be asked for a reading meanwhile: the later question wins.
    for (int again = 0; again < 3 && !answer && answer.fault().code == FaultCode::interrupted; ++again)
        answer = co_await instrument.identify();
    if (!answer) {
        if (answer.fault().code == FaultCode::garbled_answer)
            remark("The " + instrument.name() + " " + answer.fault().what +
                   "; it will not be known again by that.");
        co_return;
    }
    const bool is_pump = &instrument == &lane_.pump;
    const auto known = lane_.identities.find(instrument.name());
    if (known != lane_.identities.end() && !is_identity_in_quotes(*answer, known->second)) {
        const std::string what =
            "another instrument answers on its link: " + instead_of_quoted(*answer, known->second);
        met_stranger(instrument.name(), what, "nothing more");
        // Where the run left its own pump nobody can tell.
        if (is_pump) {
            pump_is_another_ = true;
            warn("its pump is out of reach: " + what);
        }
        co_return;
    }
    if (is_pump) pump_known_ = true;
    remark(identity_remark(instrument.name(), *answer));
}

Task<Outcome> WaterGuard::same_pump() {
    Outcome same = Done{};
    for (int asked = 0; asked < 3; ++asked) {
        const Result<std::string> answer = co_await lane_.pump.identify();
        if (answer) co_return Done{};
        same = answer.fault();
        // Noise, or pre-empted: that does not tell whether it is the same.
        if (answer.fault().code != FaultCode::garbled_answer && answer.fault().code != FaultCode::interrupted)
            break;
    }
    co_return same;
}

void WaterGuard::met_stranger(const std::string& name, const std::string& what, const char* what_it_hears) {
    remark("On the link to the " + name + ": " + what + "; " + what_it_hears + " is sent to it.");
    // Says more than that its link was lost or that it was silent.
    if (fault_ && fault_->where == name &&
        (fault_->code == FaultCode::link_lost || fault_->code == FaultCode::no_answer))
        fault_.reset();
    set_fault({FaultCode::link_lost, what, name, "put the cables back as they were"});
}

void WaterGuard::watch_link(Instrument& instrument, bool is_pump) {
    instrument.on_link_change(
        [this, name = instrument.name(), is_pump](LinkChange change, const std::string& what) {
            link_changed(name, is_pump, change, what);
        });
}

void WaterGuard::link_changed(const std::string& name, bool is_pump, LinkChange change,
                              const std::string& what) {
    switch (change) {
        case LinkChange::lost:
            remark("The link to the " + name + " was lost: " + what + ".");
            if (is_pump) {
                pump_cut_off_ = true;
                set_fault({FaultCode::link_lost, "the link to the pump was lost (" + what + ")", name,
                           "pull its plug if it turns; check its cable and power"});
            }
            break;
        case LinkChange::returned:
            remark("The link to the " + name + " is back, and it says that it is the same.");
            if (is_pump) pump_cut_off_ = false;
            break;
        case LinkChange::returned_unknown:
            remark("The link to the " + name +
                   " is back; nobody can tell whether it is the same instrument.");
            if (is_pump) pump_unknown_ = true;
            set_fault(
                {FaultCode::link_lost,
                 "its link was lost and came back, and it cannot be told whether the same instrument answers",
                 name, "look whether the " + name + " of this bench is on it; then go on"});
            // The balance tells later, in minutes perhaps, that the own one runs on.
            if (is_pump && flowing())
                warn(
                    "whoever came back on its link does not say who it is. Leave the plug only if this is "
                    "the bench's own pump, and it stands");
            break;
        case LinkChange::stranger:
            stop_whoever_ = pump_is_another_ = is_pump && !pump_cut_off_;
            met_stranger(name, what, stop_whoever_ ? "nothing but the command to stop" : "nothing more");
            // When the own one was plugged out nobody knows, nor what it does since.
            if (is_pump && (stop_whoever_ || flowing())) warn("its pump is out of reach: " + what);
            break;
        case LinkChange::noise:
            remark("The " + name + " " + what + ": noise on its line.");
            break;
        case LinkChange::taken:
            remark("On the link to the " + name + ": " + what + ".");
            set_fault({FaultCode::link_lost, what, name, std::string(link_taken_remedy)});
            break;
    }
    tell_change();
}

}  // namespace tipwright::bench
