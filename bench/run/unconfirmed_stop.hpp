// Unconfirmed stop: how work ends after which the balance did not confirm that the water has stopped. One
// rule for runs and for work outside them: that says more than that the work is done, or that somebody ended
// it.
#pragma once

#include "bench/run/water_guard.hpp"
#include "calib/base/fault.hpp"

namespace tipwright::bench {

inline Outcome unless_stop_unconfirmed(Outcome outcome, const WaterGuard& guard, bool confirmed) {
    if (confirmed || !guard.water_flowed()) return outcome;
    if (!outcome && outcome.fault().code != FaultCode::interrupted) return outcome;
    return Fault{FaultCode::water_behind, "the balance does not confirm that the water has stopped", "pump",
                 "pull its plug if it runs; look for a leak of the vessel or its drain"};
}

}  // namespace tipwright::bench
