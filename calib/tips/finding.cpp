#include "calib/tips/finding.hpp"

namespace tipwright::calib {

std::string_view name_of(FindingKind kind) {
    switch (kind) {
        case FindingKind::contact_bounce:
            return "contact_bounce";
        case FindingKind::missed_closure:
            return "missed_closure";
        case FindingKind::extra_closure:
            return "extra_closure";
        case FindingKind::contact_delay:
            return "contact_delay";
        case FindingKind::dead_compartment:
            return "dead_compartment";
        case FindingKind::phantom_tips:
            return "phantom_tips";
        case FindingKind::blocked_funnel:
            return "blocked_funnel";
        case FindingKind::unequal_compartments:
            return "unequal_compartments";
        case FindingKind::drifting_evaporation:
            return "drifting_evaporation";
        case FindingKind::disturbed_balance:
            return "disturbed_balance";
    }
    return "";
}

std::string Finding::line() const {
    return to_do.empty() ? what : what + "; " + to_do;
}

}  // namespace tipwright::calib
