// Sums: mean and sum of squared deviations of many values, and of several such sets together. Values far from
// zero lose no digits: deviations are taken from the first value. Always in the same order, whatever the
// number of threads.
#pragma once

#include <cmath>
#include <cstddef>
#include <span>

namespace tipwright::calib {

struct Sums {
    double mean = 0;
    double squares = 0;  // of deviations from the mean
    std::size_t count = 0;

    // Chan, Golub, LeVeque: pooled mean and sum of squares.
    void add(const Sums& other) {
        if (count == 0) {
            *this = other;
            return;
        }
        const auto n = static_cast<double>(count + other.count);
        const double shift = other.mean - mean;
        squares +=
            other.squares + shift * shift * static_cast<double>(count) * static_cast<double>(other.count) / n;
        mean += shift * static_cast<double>(other.count) / n;
        count += other.count;
    }

    // Experimental standard deviation, JCGM 100:2008 eq. (4); 0 of a single value.
    double deviation() const { return count > 1 ? std::sqrt(squares / static_cast<double>(count - 1)) : 0; }
};

// Of at least one value.
Sums sums_of(std::span<const double> values);

}  // namespace tipwright::calib
