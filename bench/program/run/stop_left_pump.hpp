// The pump of a run that broke off: reached by its own link and stopped, before anything else is done.
#pragma once

#include <optional>
#include <string>

#include "bench/descriptions/descriptions.hpp"
#include "bench/program/common_options.hpp"
#include "bench/run/run.hpp"

namespace tipwright::program {

// Whoever looks after a run that broke off may have a pump running that nobody has reached yet.
Fault with_plug(Fault fault);

// What became of the pump before anything else.
struct PumpFound {
    std::string words;
    bool reached = true;
    std::string why = {};  // it was not
};

// A pump that answers otherwise than the journal knows, or not at all, was not reached. `speed`: of a served
// bench. Fault: interrupted, as soon as somebody asks to end.
Result<PumpFound> stop_left_pump(const CommonOptions& common, const bench::BenchDescription& bench,
                                 std::optional<double> speed, const bench::KnownIdentities& identities);

}  // namespace tipwright::program
