#include "calib/statistics/input_distribution.hpp"

#include <array>
#include <cmath>

#include "calib/base/wide.hpp"

namespace tipwright::calib {

namespace {

using Block = std::array<double, random_block>;

TIPWRIGHT_WIDE void sum_of_two(double* __restrict values, const double* __restrict other, std::size_t count,
                               double offset, double factor) {
    for (std::size_t i = 0; i < count; ++i) values[i] = offset + factor * ((values[i] + other[i]) - 1);
}

}  // namespace

double InputDistribution::standard_deviation() const {
    switch (shape) {
        case InputShape::normal:
            return scale;
        case InputShape::student:
            return dof > 2 ? scale * std::sqrt(dof / (dof - 2)) : std::numeric_limits<double>::infinity();
        case InputShape::rectangular:
            return scale / std::sqrt(3.0);
        case InputShape::triangular:
            return scale / std::sqrt(6.0);
    }
    return 0;
}

InputDistribution normal_input(double expectation, double standard_deviation) {
    return {InputShape::normal, expectation, standard_deviation};
}

InputDistribution student_input(double expectation, double scale, double dof) {
    if (std::isinf(dof)) return normal_input(expectation, scale);
    return {InputShape::student, expectation, scale, dof};
}

InputDistribution rectangular_input(double expectation, double half_width) {
    return {InputShape::rectangular, expectation, half_width};
}

InputDistribution triangular_input(double expectation, double half_width) {
    return {InputShape::triangular, expectation, half_width};
}

void draw(const InputDistribution& input, RandomLanes& random, std::span<double> out) {
    const std::size_t n = out.size();
    switch (input.shape) {
        case InputShape::normal:
            random.fill_normal(out, input.expectation, input.scale);
            return;
        case InputShape::student:
            random.fill_student(out, input.dof, input.expectation, input.scale);
            return;
        case InputShape::rectangular:
            random.fill_uniform(out, input.expectation - input.scale, 2 * input.scale);
            return;
        case InputShape::triangular: {
            alignas(64) Block second;
            random.fill_uniform(out);
            random.fill_uniform(std::span(second).first(n));
            sum_of_two(out.data(), second.data(), n, input.expectation, input.scale);
            return;
        }
    }
}

}  // namespace tipwright::calib
