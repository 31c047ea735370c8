// Collected: how much water a run had in its vessel when it broke off, as its journal knows.
#pragma once

#include <filesystem>

#include "calib/base/fault.hpp"

namespace tipwright::bench {

// Since the vessel was last emptied, as the readings rose; what became of it while no run went on nobody
// knows. Faults: those of reading a journal.
Result<double> collected_g(const std::filesystem::path& journal);

}  // namespace tipwright::bench
