// CameOut: what came out of a complete run, as its record states it (calib/decision/statement.hpp decides).
#pragma once

#include <cstddef>
#include <optional>
#include <vector>

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

}  // namespace tipwright::page
