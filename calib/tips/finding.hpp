// Finding: something a person should know about gauge or bench, seen in the tips, in plain words with what to
// do. A finding comes from a test whose false-alarm rate is stated: the probability, at most, that it speaks
// on one collect of a gauge that has nothing wrong, under the assumptions its own header names.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

namespace tipwright::calib {

enum class FindingKind {
    contact_bounce,        // a contact bounces nearly as long as the debounce time
    missed_closure,        // a contact did not close at a tip
    extra_closure,         // a contact closed without a tip
    contact_delay,         // order or delay of the two contacts is not steady
    dead_compartment,      // one side of the bucket is never counted
    phantom_tips,          // tips with no, or too little, water behind them
    blocked_funnel,        // outflow falls behind inflow
    unequal_compartments,  // A and B differ by more than allowed
    drifting_evaporation,  // the vessel's loss changes, or is not what the bench states
    disturbed_balance,     // the weight changed without a tip
};

// Name for logs and JSON, for example "phantom_tips".
std::string_view name_of(FindingKind kind);
inline constexpr int finding_kind_count = static_cast<int>(FindingKind::disturbed_balance) + 1;

struct Finding {
    FindingKind kind{};
    std::string what;               // what was seen, with numbers
    std::string to_do;              // what to do about it
    std::vector<std::size_t> tips;  // which tips, counted from 0 within the collect; may be empty
    double statistic = 0;           // of the test, and what it had to exceed
    double threshold = 0;
    double false_alarm_rate = 0;  // 0: a plain fact, no statistics

    // "what; to_do".
    std::string line() const;
};

inline constexpr double default_false_alarm_rate = 0.001;

}  // namespace tipwright::calib
