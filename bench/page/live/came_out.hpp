// CameOut: what came out of a complete run, as its record states it (calib/decision/statement.hpp decides).
#pragma once

#include <cstddef>
#include <filesystem>
#include <functional>
#include <optional>
#include <vector>

#include "calib/base/fault.hpp"
#include "calib/decision/conformity.hpp"
#include "calib/decision/statement.hpp"

namespace tipwright::page {

struct LargestError {
    double intensity_mm_h = 0;  // set
    double error_percent = 0;
    double U_percent = 0;
};

struct CameOut {
    calib::Verdict verdict = calib::Verdict::not_stated;
    calib::Claim claim = calib::Claim::not_stated;       // of the verdict
    bool is_static = false;                              // checked without a rate
    std::optional<LargestError> largest = std::nullopt;  // of the steps of which one is stated
    std::vector<calib::Reservation> reservations = {};
    bool needs_acceptance = false;  // a person must accept them, with a reason
    std::size_t steps_finished = 0, steps_planned = 0;
};

// Asked of a complete run, on a thread of its own. Nothing: whoever ran it has not written its record yet;
// `last`: nobody will, so it is to be worked out.
using Judge = std::function<Result<std::optional<CameOut>>(const std::filesystem::path& journal, bool last)>;

}  // namespace tipwright::page
