// Work vessel: the vessel of a bench at work outside a run. Before water flows it is drained, or the person
// is asked to empty it, and from then on the guard's limit of what it holds counts. Times: bench seconds.
#pragma once

#include <optional>

#include "bench/program/instruments/workbench.hpp"

namespace tipwright::program {

class WorkVessel {
public:
    explicit WorkVessel(Workbench& work) : work_(work) {}

    // `wanted_g`: what the work means to let into it. Without a drain valve nobody knows how much of what the
    // balance shows is water: where all of it and what is wanted fit, all of it counts as water; else the
    // vessel must be lifted, emptied and put back. Faults: of pump and balance; vessel_full where it does not
    // run empty, or nobody empties it.
    bench::Task<Outcome> empty(double wanted_g);
    // Since it was emptied, as the newest reading shows; none while readings are too old to be any.
    std::optional<double> water_g() const;

private:
    bench::Task<Outcome> drain();
    bench::Task<Outcome> by_hand();
    bench::Task<Outcome> first_reading();
    Fault silent() const;

    Workbench& work_;
    std::optional<double> empty_g_;
};

}  // namespace tipwright::program
