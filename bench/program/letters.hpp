// Every letter of the names that a certificate prints is in its font: told before water flows, not after
// hours of it.
#pragma once

#include <string>

#include "bench/descriptions/descriptions.hpp"
#include "calib/base/fault.hpp"

namespace tipwright::program {

// Fault bad_value: a letter the font lacks or that this program cannot set, with the name it stands in. Where
// no font is to be had the certificate says so itself.
Outcome check_letters(const bench::GaugeDescription& gauge, const bench::BenchDescription& bench,
                      const bench::PlanDescription& plan);
// The same of a text that a person gave.
Outcome check_letters(const std::string& text, const std::string& where);

}  // namespace tipwright::program
