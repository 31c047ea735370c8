// The trial as lines for a terminal, as two tables (CSV) and as one document for machines (JSON).
#pragma once

#include <string>

#include "report/trial/trial.hpp"

namespace tipwright::report {

std::string trial_text(const Trial& trial);
// The choice at a place in a sentence or two.
std::string choice_sentence(const Trial& trial, const TrialPlace& place);
// One row for each kind and intensity.
std::string trial_curves_csv(const Trial& trial);
// One row for each place, kind, amount and way.
std::string trial_places_csv(const Trial& trial);
std::string trial_json(const Trial& trial);

}  // namespace tipwright::report
