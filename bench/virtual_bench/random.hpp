// Random: the virtual bench's dice. Same seed, same numbers, on every machine and standard library.
// xoshiro256++ seeded by splitmix64 (Blackman & Vigna, ACM Trans. Math. Softw. 47 (2021) 36); normal by
// inversion with PPND16 (Wichura, algorithm AS 241, Appl. Statist. 37 (1988) 477-484, error 1e-16). It stays
// beside calib::normal_quantile, which has another last bit for seven numbers in ten: a seed gives the run it
// always gave.
// Parts of the bench use different streams of one seed, so that one part's draws never shift another's.
#pragma once

#include <array>
#include <cstdint>

namespace tipwright::bench {

// Next state and output of splitmix64.
std::uint64_t splitmix64(std::uint64_t& state);
// Inverse of the normal distribution function, 0 < p < 1.
double normal_inverse(double p);

class Random {
public:
    explicit Random(std::uint64_t seed, std::uint64_t stream = 0);
    explicit Random(const std::array<std::uint64_t, 4>& state) : state_(state) {}

    std::uint64_t next();
    double uniform();                         // 0 < u < 1
    double between(double low, double high);  // rectangular
    double normal() { return normal_inverse(uniform()); }
    // sigma over s, where s was estimated from so many degrees of freedom: sqrt(dof / chi-squared); 1 when
    // they are above 200 or infinite.
    double true_over_estimated(double dof);
    // Student's t; normal when the degrees of freedom are above 200 or infinite.
    double student(double dof);
    bool happens(double probability) { return probability > 0 && uniform() < probability; }
    int below(int count);  // 0 to count - 1

private:
    std::array<std::uint64_t, 4> state_{};
};

}  // namespace tipwright::bench
