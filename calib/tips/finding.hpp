// Finding: something a person should know about gauge or bench, as data: which, in which step, with which
// numbers. The sentence, with what to do, comes from the words of a language (templates/certificate/,
// report/certificate/finding_words.hpp). A finding comes from a test whose false-alarm rate is stated: the
// probability, at most, that it speaks on one collect of a gauge that has nothing wrong, under the
// assumptions the test's own header names. What a finding lets a record state: calib/decision/statement.hpp.
#pragma once

#include <array>
#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace tipwright::calib {

// One for each sentence; behind it the names of its numbers.
enum class FindingId {
    contact_bounce,         // contact longest_ms debounce_ms
    contact_missed,         // contact count tips: one of two contacts did not close
    contact_extra,          // contact count: it closed without a tip
    contact_late,           // delay_ms debounce_ms: contact 2 after contact 1, on average
    contact_unsteady,       // count delay_ms usual_ms
    contact_one_sided,      // contact count tips: misses every second tip
    contact_counts,         // contact missed tips: no single closures are known
    compartment_uncounted,  // ratio: water of a tip over the nominal volume
    phantom_weighed,        // count tips: no, or too little, water behind tips
    phantom_timed,          // the same, by the intervals
    missed_weighed,         // count tips: tips with the water of several
    missed_timed,           // the same, by the intervals
    funnel_slows,           // percent: tips come more slowly from beginning to end
    compartment_a_larger,   // percent: more than the other
    compartment_b_larger,   // percent
    evaporation_drift,      // change_g_h
    evaporation_level,      // loss_g_h stated_g_h
    balance_disturbed,      // change_g tip: the weight changed without a tip
    balance_scale,          // percent tip: from there on it shows other water while the tips keep their pace
    compartment_shifted,    // percent tip: A against B changed during the collect
    volume_shifted,         // percent tip: the volume per tip changed during the collect
    changed_later,          // percent at: the gauge changed after this step, by step `at`
    runs_disagree,          // runs spread_percent own_percent
    target_missed,          // U_percent target_percent: the time limit came first
    monte_carlo_narrower,   // low_percent high_percent: its interval within e +- U
    monte_carlo_wider,      // low_percent high_percent
    dropped_disturbed,      // a collect was dropped: the weight changed without a tip
    dropped_flow,           // a collect was dropped: the flow left its band
    dropped,                // a collect was dropped
    water_temperature_outside,  // value low high: of what the laboratory permits
    air_temperature_outside,    // value low high
    pressure_outside,           // value low high
    humidity_outside,           // value low high
    beyond_capability,          // intensity_mm_h low_mm_h high_mm_h: no CMC is stated there
};
inline constexpr std::array finding_names{
    std::string_view("contact_bounce"),
    std::string_view("contact_missed"),
    std::string_view("contact_extra"),
    std::string_view("contact_late"),
    std::string_view("contact_unsteady"),
    std::string_view("contact_one_sided"),
    std::string_view("contact_counts"),
    std::string_view("compartment_uncounted"),
    std::string_view("phantom_weighed"),
    std::string_view("phantom_timed"),
    std::string_view("missed_weighed"),
    std::string_view("missed_timed"),
    std::string_view("funnel_slows"),
    std::string_view("compartment_a_larger"),
    std::string_view("compartment_b_larger"),
    std::string_view("evaporation_drift"),
    std::string_view("evaporation_level"),
    std::string_view("balance_disturbed"),
    std::string_view("balance_scale"),
    std::string_view("compartment_shifted"),
    std::string_view("volume_shifted"),
    std::string_view("changed_later"),
    std::string_view("runs_disagree"),
    std::string_view("target_missed"),
    std::string_view("monte_carlo_narrower"),
    std::string_view("monte_carlo_wider"),
    std::string_view("dropped_disturbed"),
    std::string_view("dropped_flow"),
    std::string_view("dropped"),
    std::string_view("water_temperature_outside"),
    std::string_view("air_temperature_outside"),
    std::string_view("pressure_outside"),
    std::string_view("humidity_outside"),
    std::string_view("beyond_capability"),
};
// Name for logs, JSON and the words' keys, for example "phantom_weighed".
std::string_view name_of(FindingId id);

// What several findings have in common.
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
    disturbed_balance,     // the weight changed without a tip, or by other water than the tips brought
    changed_gauge,         // the gauge is no longer what it was when it was measured
    repeats,               // runs of a step differ
    uncertainty,           // U is larger than planned, or not confirmed
    dropped_collect,
    environment,  // conditions outside what the laboratory permits
    capability,   // outside what the laboratory states a capability for
};
FindingKind kind_of(FindingId id);

struct FindingNumber {
    std::string name;  // as in the sentence's placeholder
    double value = 0;
    int decimals = 0;  // to print
};

struct Finding {
    FindingId id{};
    int step = 0;  // 0: about the run as a whole
    int run = 0;   // of several runs of a step; 0: the only one, or all together
    std::vector<FindingNumber> numbers;
    std::vector<std::size_t> tips;  // which tips, counted from 0 within the collect; may be empty
    double statistic = 0;           // of the test, and what it had to exceed
    double threshold = 0;
    double false_alarm_rate = 0;  // 0: a plain fact, no statistics

    FindingKind kind() const { return kind_of(id); }
    std::optional<double> number(std::string_view name) const;
};

Finding finding_of(FindingId id, std::vector<FindingNumber> numbers, double statistic = 0,
                   double threshold = 0, double false_alarm_rate = 0);
// A whole number.
FindingNumber count_of(std::string name, std::size_t count);

inline constexpr double default_false_alarm_rate = 0.001;

}  // namespace tipwright::calib
