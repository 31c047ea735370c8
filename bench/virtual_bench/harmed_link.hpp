// HarmedLink: a link whose bytes get lost, flipped, repeated, buried in bursts or delayed, both ways.
#pragma once

#include <memory>

#include "bench/clock/clock.hpp"
#include "bench/links/link.hpp"
#include "bench/virtual_bench/random.hpp"
#include "bench/virtual_bench/truth.hpp"

namespace tipwright::bench {

std::unique_ptr<Link> make_harmed_link(std::unique_ptr<Link> link, Clock& clock, const LinkFaults& faults,
                                       Random dice);

}  // namespace tipwright::bench
