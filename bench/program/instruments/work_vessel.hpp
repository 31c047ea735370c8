// Work vessel: the vessel of a bench at work outside a run, emptied before water flows as in a run. Times:
// bench seconds.
#pragma once

#include <optional>

#include "bench/program/instruments/workbench.hpp"
#include "bench/run/vessel_keeper.hpp"

namespace tipwright::program {

class WorkVessel {
public:
    explicit WorkVessel(Workbench& work) : work_(work) {}

    // Through its drain; without one by hand, where what it holds and `wanted_g`, which the work means to let
    // into it, do not fit. The pump stands. Faults: as of bench::VesselKeeper.
    bench::Task<Outcome> empty(double wanted_g);
    // As the newest reading shows; none before it was emptied, or while readings are too old to be any.
    std::optional<double> water_g() const;

private:
    bench::Task<Outcome> first_reading();

    Workbench& work_;
    std::optional<bench::VesselKeeper> vessel_;
};

}  // namespace tipwright::program
