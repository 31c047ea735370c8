// Concession: something spoke against an instrument before a run, and somebody let the run begin all the
// same. It goes into the journal, so that record and certificate tell it.
#pragma once

#include <optional>
#include <string>

namespace tipwright::bench {

enum class Nonconformity {
    calibration_overdue,
    check_failed,  // of a balance, with a reference mass
};

struct Concession {
    std::string role;  // of the instrument
    std::string serial;
    Nonconformity nonconformity{};
    std::string since;              // ISO date on which the calibration was due, or of the check
    std::optional<double> error_g;  // what the check found, and at which mass
    std::optional<double> mass_g;
    std::string reason;  // in the words of whoever accepted it
};

}  // namespace tipwright::bench
