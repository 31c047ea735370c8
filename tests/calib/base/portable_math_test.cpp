// Elementary functions against MPFR 4.2, which rounds correctly: equal to the last bit.
#include <mpfr.h>

#include <catch2/catch.hpp>
#include <cmath>
#include <cstring>
#include <limits>
#include <random>
#include <utility>
#include <vector>

#include "calib/base/portable_math.hpp"

namespace {

namespace portable = tipwright::calib::portable;

constexpr double infinite = std::numeric_limits<double>::infinity();
constexpr int samples = 4000;

using Own = double (*)(double);
using Exact = int (*)(mpfr_t, const mpfr_t, mpfr_rnd_t);
using Own2 = double (*)(double, double);
using Exact2 = int (*)(mpfr_t, const mpfr_t, const mpfr_t, mpfr_rnd_t);

class Reference {
public:
    Reference() {
        mpfr_set_emin(-1073);
        mpfr_set_emax(1024);
        mpfr_inits2(53, x_, y_, result_, nullptr);
    }
    ~Reference() { mpfr_clears(x_, y_, result_, nullptr); }
    Reference(const Reference&) = delete;
    Reference& operator=(const Reference&) = delete;

    double of(Exact function, double x) {
        mpfr_set_d(x_, x, MPFR_RNDN);
        return rounded(function(result_, x_, MPFR_RNDN));
    }
    double of(Exact2 function, double x, double y) {
        mpfr_set_d(x_, x, MPFR_RNDN);
        mpfr_set_d(y_, y, MPFR_RNDN);
        return rounded(function(result_, x_, y_, MPFR_RNDN));
    }

private:
    double rounded(int ternary) {
        mpfr_subnormalize(result_, ternary, MPFR_RNDN);
        return mpfr_get_d(result_, MPFR_RNDN);
    }
    mpfr_t x_;
    mpfr_t y_;
    mpfr_t result_;
};

bool same(double a, double b) {
    return std::memcmp(&a, &b, sizeof a) == 0 || (std::isnan(a) && std::isnan(b));
}

struct Case {
    const char* name;
    Own own;
    Exact exact;
    double low;
    double high;
    bool logarithmic = false;  // spread over the powers of ten, both signs when low < 0
};

}  // namespace

TEST_CASE("Elementary functions of one argument are what MPFR rounds to") {
    const std::vector<Case> cases = {
        {"exp", portable::exp, mpfr_exp, -708, 709.7},
        {"exp", portable::exp, mpfr_exp, 1e-20, 1, true},
        {"exp2", portable::exp2, mpfr_exp2, -1021, 1023.9},
        {"exp10", portable::exp10, mpfr_exp10, -307, 308.2},
        {"expm1", portable::expm1, mpfr_expm1, -45, 709.7},
        {"expm1", portable::expm1, mpfr_expm1, 1e-25, 10, true},
        {"log", portable::log, mpfr_log, 1e-307, 1e308, true},
        {"log", portable::log, mpfr_log, 0.9, 1.1},
        {"log of subnormal", portable::log, mpfr_log, 1e-322, 1e-308, true},
        {"log2", portable::log2, mpfr_log2, 1e-307, 1e308, true},
        {"log10", portable::log10, mpfr_log10, 1e-307, 1e308, true},
        {"log10", portable::log10, mpfr_log10, 0.5, 2},
        {"log1p", portable::log1p, mpfr_log1p, -0.999, 3},
        {"log1p", portable::log1p, mpfr_log1p, 1e-30, 1e30, true},
        {"sin", portable::sin, mpfr_sin, -30, 30},
        {"sin", portable::sin, mpfr_sin, 1e-30, 1e9, true},
        {"cos", portable::cos, mpfr_cos, -30, 30},
        {"cos", portable::cos, mpfr_cos, 1e-30, 1e9, true},
        {"tan", portable::tan, mpfr_tan, -30, 30},
        {"asin", portable::asin, mpfr_asin, -1, 1},
        {"asin", portable::asin, mpfr_asin, 1e-30, 1, true},
        {"acos", portable::acos, mpfr_acos, -1, 1},
        {"atan", portable::atan, mpfr_atan, -3, 3},
        {"atan", portable::atan, mpfr_atan, 1e-30, 1e30, true},
    };
    Reference reference;
    std::mt19937_64 random(20261128);
    for (const Case& one : cases) {
        int wrong = 0;
        for (int i = 0; i < samples; ++i) {
            const double share = static_cast<double>(random() >> 11) * 0x1p-53;
            const double x =
                one.logarithmic ? one.low * std::pow(one.high / one.low / 1e10, share) * std::pow(1e10, share)
                                : one.low + share * (one.high - one.low);
            const double own = one.own(x);
            const double exact = reference.of(one.exact, x);
            if (!same(own, exact) && ++wrong == 1) {
                INFO(one.name << "(" << std::hexfloat << x << ") = " << own << ", not " << exact);
                CHECK(false);
            }
        }
        INFO(one.name << " from " << one.low << " to " << one.high);
        CHECK(wrong == 0);
    }
}

TEST_CASE("Power, hypotenuse and angle are what MPFR rounds to") {
    Reference reference;
    std::mt19937_64 random(4711);
    const auto share = [&] { return static_cast<double>(random() >> 11) * 0x1p-53; };
    const auto check = [&](const char* name, Own2 own, Exact2 exact, double x, double y) {
        const double mine = own(x, y);
        const double theirs = reference.of(exact, x, y);
        if (!same(mine, theirs)) {
            INFO(name << "(" << std::hexfloat << x << ", " << y << ") = " << mine << ", not " << theirs);
            CHECK(false);
        }
    };
    for (int i = 0; i < samples; ++i) {
        const double x = std::pow(10, 20 * share() - 10);
        const double y = std::pow(10, 20 * share() - 10);
        check("pow", portable::pow, mpfr_pow, x, 20 * share() - 10);
        check("pow", portable::pow, mpfr_pow, 1 + 1e-6 * share(), 1e6 * share());
        check("pow", portable::pow, mpfr_pow, -x, std::floor(12 * share()) - 6);
        check("pow", portable::pow, mpfr_pow, 10, std::floor(600 * share()) - 300);
        check("hypot", portable::hypot, mpfr_hypot, x, -y);
        check("hypot", portable::hypot, mpfr_hypot, x * 1e295, y * 1e295);
        check("hypot", portable::hypot, mpfr_hypot, x * 1e-290, y * 1e-290);
        check("atan2", portable::atan2, mpfr_atan2, x, y);
        check("atan2", portable::atan2, mpfr_atan2, -x, -y);
    }
}

TEST_CASE("Elementary functions at their poles and edges") {
    Reference reference;
    const std::vector<double> edges = {0.0,
                                       -0.0,
                                       1,
                                       -1,
                                       0.5,
                                       2,
                                       -2,
                                       3,
                                       infinite,
                                       -infinite,
                                       1e-310,
                                       -1e-310,
                                       800,
                                       -800,
                                       1e300,
                                       -1e300,
                                       std::numeric_limits<double>::quiet_NaN(),
                                       709.79,
                                       1024,
                                       0x1p-1074};
    const std::vector<std::pair<Own, Exact>> one = {
        {portable::exp, mpfr_exp},     {portable::exp2, mpfr_exp2},   {portable::exp10, mpfr_exp10},
        {portable::expm1, mpfr_expm1}, {portable::log, mpfr_log},     {portable::log2, mpfr_log2},
        {portable::log10, mpfr_log10}, {portable::log1p, mpfr_log1p}, {portable::asin, mpfr_asin},
        {portable::acos, mpfr_acos},   {portable::atan, mpfr_atan}};
    for (std::size_t k = 0; k < one.size(); ++k)
        for (const double x : edges) {
            INFO("function " << k << " of " << x);
            CHECK(same(one[k].first(x), reference.of(one[k].second, x)));
        }
    const std::vector<std::pair<Own2, Exact2>> two = {
        {portable::pow, mpfr_pow}, {portable::hypot, mpfr_hypot}, {portable::atan2, mpfr_atan2}};
    for (std::size_t k = 0; k < two.size(); ++k)
        for (const double x : edges)
            for (const double y : edges) {
                INFO("function " << k << " of " << x << ", " << y);
                const double mine = two[k].first(x, y);
                const double theirs = reference.of(two[k].second, x, y);
                // A subnormal result may be one unit off.
                const bool subnormal = std::fpclassify(theirs) == FP_SUBNORMAL;
                CHECK((same(mine, theirs) || (subnormal && std::fabs(mine - theirs) <= 0x1p-1074)));
            }
    CHECK(std::isnan(portable::sin(infinite)));
    CHECK(std::isnan(portable::cos(1e12)));
}

// Searched for where Newton's start is worst: arguments whose angle lies less than 1e-9 of a last place from
// the middle between two doubles, so that an error of 1e-26 of the angle shows.
TEST_CASE("An angle just beside the middle between two doubles is rounded to its own side") {
    Reference reference;
    for (const double t :
         {0x1.95b2d70fcbf72p-2, 0x1.95b2d95c7cb5p-2, 0x1.95b2ea066e143p-2, 0x1.95b2f22a4a193p-2,
          0x1.95b2f49572516p-2, 0x1.95b300514eb69p-2, 0x1.95b305e351892p-2, 0x1.95b2d569e3f54p-2,
          0x1.95b2fad7aa41ap-2, 0x1.95b2fbaeb1536p-2}) {
        INFO(std::hexfloat << t);
        CHECK(same(portable::atan(t), reference.of(mpfr_atan, t)));
        CHECK(same(portable::atan2(t, 1), reference.of(mpfr_atan2, t, 1)));
    }
}

TEST_CASE("The usual names lead to the portable functions") {
    // Arguments the compiler does not know, so that the call is made; results the C library may round
    // otherwise.
    const volatile double start = 0.1;
    for (int i = 0; i < 1000; ++i) {
        const double x = start + 0.013 * i;
        CHECK(same(std::exp(x), portable::exp(x)));
        CHECK(same(std::pow(x, 1.7), portable::pow(x, 1.7)));
        CHECK(same(std::log(x), portable::log(x)));
        CHECK(same(std::sin(x), portable::sin(x)));
    }
}
