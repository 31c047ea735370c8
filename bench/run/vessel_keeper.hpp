// Vessel keeper: looks after the vessel on the balance while a bench is at work, in a run or outside. It
// knows how much water stands in it, and empties it through its drain valve or by the hands of whoever stands
// beside it, the pump standing. Times: bench seconds.
#pragma once

#include <functional>
#include <string>

#include "bench/run/vessel_content.hpp"
#include "bench/run/water_guard.hpp"

namespace tipwright::bench {

class VesselKeeper {
public:
    // The log may be null: work outside a run keeps no journal. `news`: returns when there may be a new
    // reading.
    VesselKeeper(WaterGuard& guard, Pump& pump, Clock& clock, const BenchDescription& bench, RunLog* log,
                 std::function<Task<void>()> news, std::function<void(const std::string&)> tell);

    // Readings come: what stands there now. collected_g: in the vessel when a run that goes on broke off.
    void found(double shown_g, double collected_g);
    // Water may flow into it as it stands: from here on the guard's limit of what it holds counts.
    void watch();
    // Whether that much more fits, and the vessel stands there at all.
    bool ready_for(double shown_g, double wanted_g) const {
        return !content_.is_off(shown_g) && content_.has_room(shown_g, wanted_g);
    }
    double water_g(double shown_g) const { return content_.water_g(shown_g); }
    // The pump stands. wanted_g: what the work means to let into it next. Faults: of pump and balance;
    // vessel_full where it does not run empty, where nobody is there to empty it by hand, or where nobody
    // does before the first water: later the water stands and waits for as long as it takes.
    Task<Outcome> empty(double wanted_g);

private:
    Task<Outcome> drain(double wanted_g);
    Task<Outcome> by_hand(double wanted_g);
    Fault nobody_came() const;
    std::string what_to_do(double shown_g) const;
    void tell(const std::string& text) const {
        if (tell_) tell_(text);
    }

    WaterGuard& guard_;
    Pump& pump_;
    Clock& clock_;
    const BenchDescription& bench_;
    RunLog* log_;
    std::function<Task<void>()> news_;
    std::function<void(const std::string&)> tell_;
    VesselContent content_;
};

}  // namespace tipwright::bench
