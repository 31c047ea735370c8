#include "calib/statistics/input_distribution.hpp"

#include <array>
#include <cmath>
#include <numbers>

#include "calib/base/wide.hpp"

namespace tipwright::calib {

namespace {

using Block = std::array<double, random_block>;

TIPWRIGHT_WIDE void sum_of_two(double* __restrict values, const double* __restrict other, std::size_t count,
                               double offset, double factor) {
    for (std::size_t i = 0; i < count; ++i) values[i] = offset + factor * ((values[i] + other[i]) - 1);
}

// offset + factor sin(2 pi u) for u from 0 to 1: by symmetry to a quarter turn either side, there Taylor's
// series. Error below 3e-16 of factor. Own, since the C library's differs between processors and is no loop
// of vectors.
TIPWRIGHT_WIDE void sine_of_turns(double* values, std::size_t count, double offset, double factor) {
    constexpr int last = 21;  // (pi/2)^23 / 23! = 1.3e-18
    for (std::size_t i = 0; i < count; ++i) {
        const double turned = values[i] - 0.5;
        const double aside = turned < 0 ? -turned : turned;
        const double folded = aside > 0.25 ? 0.5 - aside : aside;
        const double angle = 2 * std::numbers::pi * folded;
        const double square = angle * angle;
        double sum = 1;
        for (int k = last; k >= 3; k -= 2) sum = 1 - square * (1.0 / (k * (k - 1))) * sum;
        const double sine = angle * sum;
        values[i] = offset + factor * (turned < 0 ? sine : -sine);
    }
}

void draw_curvilinear_trapezoid(const InputDistribution& input, RandomLanes& random, std::span<double> out) {
    alignas(64) Block second;
    const auto r2 = std::span(second).first(out.size());
    random.fill_uniform(out);
    random.fill_uniform(r2);
    for (std::size_t i = 0; i < out.size(); ++i) {
        // Half-width drawn between scale - d and scale + d, then a point within it.
        const double half_width = input.scale + input.limit_half_width * (1 - 2 * out[i]);
        out[i] = input.expectation + half_width * (2 * r2[i] - 1);
    }
}

}  // namespace

double InputDistribution::standard_deviation() const {
    switch (shape) {
        case InputShape::constant:
            return 0;
        case InputShape::normal:
            return scale;
        case InputShape::student:
            return dof > 2 ? scale * std::sqrt(dof / (dof - 2)) : std::numeric_limits<double>::infinity();
        case InputShape::rectangular:
            return scale / std::sqrt(3.0);
        case InputShape::triangular:
            return scale / std::sqrt(6.0);
        case InputShape::arcsine:
            return scale / std::numbers::sqrt2;
        case InputShape::curvilinear_trapezoid:
            return std::sqrt(scale * scale / 3 + limit_half_width * limit_half_width / 9);
    }
    return 0;
}

InputDistribution constant_input(double value) {
    return {InputShape::constant, value};
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

InputDistribution arcsine_input(double expectation, double half_width) {
    return {InputShape::arcsine, expectation, half_width};
}

InputDistribution curvilinear_trapezoid_input(double expectation, double half_width,
                                              double limit_half_width) {
    InputDistribution input{InputShape::curvilinear_trapezoid, expectation, half_width};
    input.limit_half_width = limit_half_width;
    return input;
}

void draw(const InputDistribution& input, RandomLanes& random, std::span<double> out) {
    const std::size_t n = out.size();
    switch (input.shape) {
        case InputShape::constant:
            for (double& value : out) value = input.expectation;
            return;
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
        case InputShape::arcsine:
            random.fill_uniform(out);
            sine_of_turns(out.data(), n, input.expectation, input.scale);
            return;
        case InputShape::curvilinear_trapezoid:
            draw_curvilinear_trapezoid(input, random, out);
            return;
    }
}

}  // namespace tipwright::calib
