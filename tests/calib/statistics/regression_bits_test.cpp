// Fits keep their last bit: the residuals of a stored record stand beside those of the same record fitted
// anew, and of a small residual the last bit of a volume is many digits. Values: the same fits by the program
// before its factorisation was written anew (commit 6bc6993), which had solved them by Eigen throughout.
#include <catch2/catch.hpp>
#include <cstddef>
#include <vector>

#include "calib/statistics/regression.hpp"

using namespace tipwright::calib;

namespace {

// Points whose covariance is that of common and own parts; made by exact rules alone, the same everywhere.
CalibrationPoints points_of(std::size_t n, bool in_x, bool joint) {
    CalibrationPoints points;
    points.cov_y = SquareMatrix(n);
    if (in_x) points.cov_x = SquareMatrix(n);
    if (joint) points.cov_xy = SquareMatrix(n);
    std::vector<double> u_x;
    std::vector<double> u_y;
    for (std::size_t i = 0; i < n; ++i) {
        const double flow = 0.125 + 0.25 * static_cast<double>(i);
        const double odd_x = (static_cast<double>(i * 37 % 11) - 5) / 5;
        const double odd_y = (static_cast<double>(i * 29 % 13) - 6) / 6;
        u_x.push_back(0.004 * flow + 0.002);
        u_y.push_back(0.01 + 0.002 * static_cast<double>(i % 3));
        points.x.push_back(flow + u_x.back() * odd_x);
        points.y.push_back(6.2 + 0.4 * flow - 0.01 * flow * flow + u_y.back() * odd_y);
    }
    for (std::size_t i = 0; i < n; ++i) {
        for (std::size_t j = 0; j < n; ++j) {
            if (in_x) points.cov_x(i, j) = u_x[i] * u_x[j] * (i == j ? 1 : 0.4);
            points.cov_y(i, j) = u_y[i] * u_y[j] * (i == j ? 1 : 0.3);
            if (joint) points.cov_xy(i, j) = u_x[i] * u_y[j] * (i == j ? 0.5 : 0.2);
        }
    }
    return points;
}

struct Known {
    std::size_t n;
    bool in_x;
    bool joint;
    int degree;
    double slope;
    double slope_variance;
    double chi2;
    double squares;     // of the residuals
    double deviations;  // normalised ones, together
};

}  // namespace

TEST_CASE("a fit is the same to the last bit as by the program before, for few points and for many") {
    const Known all[] = {
        {5, true, true, 1, 0x1.a34b520ecd667p-2, 0x1.ef54f0b43a025p-14, 0x1.3a87a21e5583fp-5,
         0x1.e0fce6a7c79d2p-19, -0x1.c1cfb8fc2af36p-5},
        {11, false, false, 2, 0x1.af0febcfcf388p-2, 0x1.aa095786273e6p-13, 0x1.dbe3afc76a935p+1,
         0x1.ca3cbde91ac8cp-12, -0x1.8b4361e79f52cp-4},
        {20, true, false, 2, 0x1.9ed24637d284bp-2, 0x1.4045693bb8ba4p-15, 0x1.63a407524fd08p+3,
         0x1.1ec4229112dbp-10, -0x1.0a7ae8cd5c0ap-4},
        {20, true, true, 1, 0x1.663f95360d7abp-2, 0x1.5b6e011dedfe3p-19, 0x1.f9239b0f76f34p+6,
         0x1.469b92a9b55fcp-7, -0x1.2ee7559c01d38p+0},
        {31, true, true, 3, 0x1.9f54014139656p-2, 0x1.9ace43d33d545p-15, 0x1.7f404f38c3bcp+4,
         0x1.1504c6bdbb912p-9, 0x1.52e2f4857dfccp-3},
        {40, true, true, 1, 0x1.369f94c581e03p-2, 0x1.b439d3eea193dp-21, 0x1.4ca98b97c10bp+11,
         0x1.5ff9c6b1ee03dp-3, -0x1.e4f61dfb867aep+3},
    };
    for (const Known& known : all) {
        CAPTURE(known.n, known.degree);
        const auto fit = fit_polynomial(points_of(known.n, known.in_x, known.joint), known.degree);
        REQUIRE(fit);
        double squares = 0;
        double deviations = 0;
        for (const double residual : fit->residuals) squares += residual * residual;
        for (const double deviation : fit->normalized_deviations) deviations += deviation;
        CHECK(fit->coefficients[1] == known.slope);
        CHECK(fit->covariance(1, 1) == known.slope_variance);
        CHECK(fit->chi2 == known.chi2);
        CHECK(squares == known.squares);
        CHECK(deviations == known.deviations);
    }
}
