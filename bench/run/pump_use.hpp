// Pump use: how long the pump ran in a run, out of its journal. A run that broke off counts up to its last
// entry.
#pragma once

#include <filesystem>

#include "calib/base/fault.hpp"

namespace tipwright::bench {

// Hours of bench time between commands of a flow and to stop. Faults: of reading the journal.
Result<double> pumping_h(const std::filesystem::path& journal);

}  // namespace tipwright::bench
