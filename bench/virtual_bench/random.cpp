#include "bench/virtual_bench/random.hpp"

#include <algorithm>
#include <bit>
#include <cmath>
#include <cstddef>

#include "bench/virtual_bench/portable_math.hpp"

namespace tipwright::bench {

namespace {

template <std::size_t N>
double polynomial(const std::array<double, N>& coefficients, double x) {
    double sum = 0;
    for (std::size_t i = N; i-- > 0;) sum = sum * x + coefficients[i];
    return sum;
}

// Coefficients as printed in AS 241, PPND16: numerators A, C, E and denominators B, D, F.
namespace as241 {
constexpr std::array<double, 8> a = {
    3.3871328727963666080e0, 1.3314166789178437745e2, 1.9715909503065514427e3, 1.3731693765509461125e4,
    4.5921953931549871457e4, 6.7265770927008700853e4, 3.3430575583588128105e4, 2.5090809287301226727e3};
constexpr std::array<double, 8> b = {1.0,
                                     4.2313330701600911252e1,
                                     6.8718700749205790830e2,
                                     5.3941960214247511077e3,
                                     2.1213794301586595867e4,
                                     3.9307895800092710610e4,
                                     2.8729085735721942674e4,
                                     5.2264952788528545610e3};
constexpr std::array<double, 8> c = {1.42343711074968357734e0,  4.63033784615654529590e0,
                                     5.76949722146069140550e0,  3.64784832476320460504e0,
                                     1.27045825245236838258e0,  2.41780725177450611770e-1,
                                     2.27238449892691845833e-2, 7.74545014278341407640e-4};
constexpr std::array<double, 8> d = {1.0,
                                     2.05319162663775882187e0,
                                     1.67638483018380384940e0,
                                     6.89767334985100004550e-1,
                                     1.48103976427480074590e-1,
                                     1.51986665636164571966e-2,
                                     5.47593808499534494600e-4,
                                     1.05075007164441684324e-9};
constexpr std::array<double, 8> e = {6.65790464350110377720e0,  5.46378491116411436990e0,
                                     1.78482653991729133580e0,  2.96560571828504891230e-1,
                                     2.65321895265761230930e-2, 1.24266094738807843860e-3,
                                     2.71155556874348757815e-5, 2.01033439929228813265e-7};
constexpr std::array<double, 8> f = {1.0,
                                     5.99832206555887937690e-1,
                                     1.36929880922735805310e-1,
                                     1.48753612908506148525e-2,
                                     7.86869131145613259100e-4,
                                     1.84631831751005468180e-5,
                                     1.42151175831644588870e-7,
                                     2.04426310338993978564e-15};
}  // namespace as241

}  // namespace

std::uint64_t splitmix64(std::uint64_t& state) {
    state += 0x9e3779b97f4a7c15U;
    std::uint64_t z = state;
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9U;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebU;
    return z ^ (z >> 31);
}

double normal_inverse(double p) {
    const double q = p - 0.5;
    if (std::abs(q) <= 0.425) {
        const double r = 0.180625 - q * q;
        return q * polynomial(as241::a, r) / polynomial(as241::b, r);
    }
    double r = std::sqrt(-portable_log(q < 0 ? p : 1 - p));
    double value = 0;
    if (r <= 5) {
        r -= 1.6;
        value = polynomial(as241::c, r) / polynomial(as241::d, r);
    } else {
        r -= 5;
        value = polynomial(as241::e, r) / polynomial(as241::f, r);
    }
    return q < 0 ? -value : value;
}

Random::Random(std::uint64_t seed, std::uint64_t stream) {
    std::uint64_t mixed = stream;
    std::uint64_t filler = seed ^ splitmix64(mixed);
    for (std::uint64_t& word : state_) word = splitmix64(filler);
}

std::uint64_t Random::next() {
    const std::uint64_t result = std::rotl(state_[0] + state_[3], 23) + state_[0];
    const std::uint64_t shifted = state_[1] << 17;
    state_[2] ^= state_[0];
    state_[3] ^= state_[1];
    state_[1] ^= state_[2];
    state_[0] ^= state_[3];
    state_[2] ^= shifted;
    state_[3] = std::rotl(state_[3], 45);
    return result;
}

// 52 bits, centred in their cell: never 0, never 1.
double Random::uniform() {
    return (static_cast<double>(next() >> 12) + 0.5) * 0x1p-52;
}

double Random::between(double low, double high) {
    return low + (high - low) * uniform();
}

double Random::true_over_estimated(double dof) {
    if (!(dof <= 200)) return 1;
    const int n = std::max(1, static_cast<int>(std::lround(dof)));
    double chi2 = 0;
    for (int i = 0; i < n; ++i) {
        const double x = normal();
        chi2 += x * x;
    }
    return 1 / std::sqrt(chi2 / n);
}

double Random::student(double dof) {
    const double z = normal();
    return z * true_over_estimated(dof);
}

int Random::below(int count) {
    return static_cast<int>(uniform() * count);
}

}  // namespace tipwright::bench
