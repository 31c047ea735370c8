// Control chart of a check gauge: single values against limits that the first of them set, with runs rules,
// and an exponentially weighted mean beside it.
//   centre = mean of the baseline;  s = mean moving range / 1.128        (ISO 7870-2:2013: d2 of two values)
//   limits = centre +- 3 s w;  warnings and zones at 2 and 1 s w
//   w = t(1 - 0.00135; 0.605 (n - 1)) sqrt(1 + 1/n) / 3: limits from n values alone are uncertain themselves.
//     A mean moving range is worth 0.605 of the degrees of freedom of a standard deviation (Cryer & Ryan
//     1990; from memory). 1 where centre and s are given.
//   rules: one beyond a limit; two of three beyond 2 s, four of five beyond 1 s, eight in a row, each on one
//     side (Western Electric 1956; Champ & Woodall 1987: a false alarm every 91.75 values by all four)
//   z_i = lambda x_i + (1 - lambda) z_i-1;  limits +- L s w sqrt(lambda/(2 - lambda) (1 - (1 - lambda)^2i))
//     (Roberts 1959; ISO 7870-6:2016). lambda 0.2, L 2.962: a false alarm every 500 (Lucas & Saccucci 1990;
//     from memory)
// After what put a process right, rules and weighted mean begin anew: what was before says nothing of it (a
// chart is restarted: ISO 7870-4 and -6; Montgomery, Introduction to Statistical Quality Control, chapter 9;
// from memory). Unit: that of the values. Domain: baseline of 5 values or more, all finite, in order of time.
// Checks: tests/calib/laboratory/control_chart_test.cpp (NIST/SEMATECH e-Handbook 6.3.2.2, 6.3.2.4), rates of
// alarms in tests/figures/laboratory_figures.cpp. Faults: too_few_points, not_finite, bad_value.
#pragma once

#include <array>
#include <cstddef>
#include <optional>
#include <string_view>
#include <vector>

#include "calib/base/fault.hpp"
#include "calib/base/uncertain.hpp"

namespace tipwright::calib {

enum class ControlRule { beyond_limit, two_of_three, four_of_five, eight_in_a_row, weighted_mean };
inline constexpr std::array control_rule_names{
    std::string_view("beyond_limit"), std::string_view("two_of_three"), std::string_view("four_of_five"),
    std::string_view("eight_in_a_row"), std::string_view("weighted_mean")};

inline constexpr std::size_t least_baseline = 5;
// One tail beyond three standard deviations.
inline constexpr double control_tail = 0.00135;

struct ControlSettings {
    std::size_t baseline = 10;     // so many first values set centre and spread; fewer when fewer are there
    std::optional<double> centre;  // given: baseline and widening do not count
    std::optional<double> sd;
    double tail = control_tail;  // of the limit, each side
    bool runs_rules = true;
    bool weighted_mean = true;
    double lambda = 0.2;
    double L = 2.962;
    std::vector<std::size_t> restarts;  // values from which rules and weighted mean begin anew, ascending
    bool widen = true;                  // w; false: as in tables that take s for sigma
};

struct ControlSignal {
    ControlRule rule{};
    std::size_t at = 0;  // the value that completes it
    bool above = false;
};

struct ControlChart {
    std::vector<double> values;
    std::size_t baseline = 0;  // 0: centre and spread were given
    double centre = 0;
    double sd = 0;     // s
    double zone = 0;   // s w
    double limit = 0;  // distance of the limits from the centre
    std::vector<double> weighted;
    std::vector<double> weighted_limit;  // distance from the centre
    std::vector<ControlSignal> signals;  // by value

    // Of the last value: out of control now.
    bool alarm() const { return !signals.empty() && signals.back().at + 1 == values.size(); }
};

// How far the process may have moved amid the values that set the limits, unseen: Student's test of the means
// of their two halves, at the tails of the limits, tells of a smaller move in fewer than four of five cases.
//   delta s sqrt(1/n1 + 1/n2);  s from within the halves, delta: 0.8 of noncentral t(n - 2, delta) beyond
//   t(1 - 0.00135; n - 2)
// (power of that test; by simulation in the test). 0 where centre and spread
// were given.
double hidden_move(const ControlChart& chart);

Result<ControlChart> control_chart(const std::vector<double>& values, const ControlSettings& settings = {});

}  // namespace tipwright::calib
