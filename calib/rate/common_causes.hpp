// CommonCauses: who the things are that several results may have in common. A component of a budget names its
// cause as "what: which one"; results whose components name the same cause share its unknown deviation
// (calib/statistics/contributions.hpp). Empty identities are not told apart: right within one run, and for
// results that are only looked at together when they are of one run.
#pragma once

#include <string>

#include "calib/statistics/contributions.hpp"

namespace tipwright::calib {

struct StepResult;

struct CommonCauses {
    std::string run;      // what is new in every run: water, air, evaporation, zero drift
    std::string rim;      // the catch area as it was measured: gauge and measurement
    std::string balance;  // the balance as it was calibrated: serial and certificate
    std::string measure;  // graduated measure
    std::string clock;    // the tip counter's time base
};

// What a step's budget contributes to 1 + e, relative; times `scale`. `own` names the step, run and record
// for what it has in common with no other.
Contributions error_contributions(const StepResult& step, const std::string& own, double scale = 1);
}  // namespace tipwright::calib
