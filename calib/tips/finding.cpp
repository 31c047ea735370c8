#include "calib/tips/finding.hpp"

#include <utility>

namespace tipwright::calib {

std::string_view name_of(FindingId id) {
    return finding_names.at(static_cast<std::size_t>(id));
}

FindingKind kind_of(FindingId id) {
    switch (id) {
        case FindingId::contact_bounce:
            return FindingKind::contact_bounce;
        case FindingId::contact_missed:
        case FindingId::contact_counts:
        case FindingId::missed_weighed:
        case FindingId::missed_timed:
            return FindingKind::missed_closure;
        case FindingId::contact_extra:
            return FindingKind::extra_closure;
        case FindingId::contact_late:
        case FindingId::contact_unsteady:
            return FindingKind::contact_delay;
        case FindingId::contact_one_sided:
        case FindingId::compartment_uncounted:
            return FindingKind::dead_compartment;
        case FindingId::phantom_weighed:
        case FindingId::phantom_timed:
            return FindingKind::phantom_tips;
        case FindingId::funnel_slows:
            return FindingKind::blocked_funnel;
        case FindingId::compartment_a_larger:
        case FindingId::compartment_b_larger:
            return FindingKind::unequal_compartments;
        case FindingId::evaporation_drift:
        case FindingId::evaporation_level:
            return FindingKind::drifting_evaporation;
        case FindingId::balance_disturbed:
        case FindingId::balance_scale:
            return FindingKind::disturbed_balance;
        case FindingId::compartment_shifted:
        case FindingId::volume_shifted:
        case FindingId::changed_later:
            return FindingKind::changed_gauge;
        case FindingId::runs_disagree:
            return FindingKind::repeats;
        case FindingId::target_missed:
        case FindingId::monte_carlo_narrower:
        case FindingId::monte_carlo_wider:
            return FindingKind::uncertainty;
        case FindingId::water_temperature_outside:
        case FindingId::air_temperature_outside:
        case FindingId::pressure_outside:
        case FindingId::humidity_outside:
            return FindingKind::environment;
        case FindingId::beyond_capability:
            return FindingKind::capability;
        case FindingId::dropped_disturbed:
        case FindingId::dropped_flow:
        case FindingId::dropped:
            break;
    }
    return FindingKind::dropped_collect;
}

std::optional<double> Finding::number(std::string_view name) const {
    for (const FindingNumber& one : numbers)
        if (one.name == name) return one.value;
    return std::nullopt;
}

Finding finding_of(FindingId id, std::vector<FindingNumber> numbers, double statistic, double threshold,
                   double false_alarm_rate) {
    Finding finding;
    finding.id = id;
    finding.numbers = std::move(numbers);
    finding.statistic = statistic;
    finding.threshold = threshold;
    finding.false_alarm_rate = false_alarm_rate;
    return finding;
}

FindingNumber count_of(std::string name, std::size_t count) {
    return {std::move(name), static_cast<double>(count), 0};
}

}  // namespace tipwright::calib
