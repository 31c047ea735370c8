// Coverage intervals from Monte Carlo values, JCGM 101:2008 clause 7.7: of M sorted values, those ranked r
// and r + q with q = pM; probabilistically symmetric (7.7.3) or shortest (5.3.4, 7.7.4). Only the M - q
// lowest and the M - q highest values can be ends of an interval, so only these are ever sorted.
#pragma once

#include <cstddef>
#include <limits>
#include <span>
#include <vector>

namespace tipwright::calib {

struct Interval {
    double low = 0;
    double high = 0;
};

struct CoverageIntervals {
    Interval symmetric;
    Interval shortest;
};

// M - q: how many values lie outside an interval that holds the share `coverage` of M; q = pM to the
// nearest whole number (7.7.2).
std::size_t values_outside(std::size_t trials, double coverage);

// All values up to `low_limit` and all from `high_limit` on, in no order.
struct Tails {
    std::vector<double> low;
    std::vector<double> high;
    double low_limit = -std::numeric_limits<double>::infinity();
    double high_limit = std::numeric_limits<double>::infinity();
};
// Tails of at least `count` values; limits that are too narrow are replaced. Not finite: guessed.
Tails tails_of(std::span<const double> values, std::size_t count, double low_limit, double high_limit);

// From tails of at least `outside` values of each side; reorders them. Whether the shortest is wanted
// decides whether they must be sorted.
Interval symmetric_interval(std::vector<double>& low, std::vector<double>& high, std::size_t outside);
CoverageIntervals intervals_from(std::vector<double>& low, std::vector<double>& high, std::size_t outside);

// Both in one, for any set of values.
CoverageIntervals coverage_intervals(std::span<const double> values, double coverage);

}  // namespace tipwright::calib
