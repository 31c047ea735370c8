// Random numbers for Monte Carlo: xoshiro256++ (Blackman, Vigna, ACM Trans. Math. Softw. 47 (2021) 36) in
// eight independent lanes, seeded by SplitMix64 (Steele, Lea, Flood, OOPSLA 2014). One generator belongs to
// one stream: its numbers depend on seed and stream alone, so the work may be split over any number of
// threads. Normal deviates by Box and Muller (Ann. Math. Stat. 29 (1958) 610), Student's t by Bailey's polar
// form (Math. Comput. 62 (1994) 779), with own logarithm, exponential and cosine, so that whole blocks stay
// in vector registers; they differ from the exact transforms by less than 1e-14 of the radius. The same
// numbers come from every vector width.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <span>

namespace tipwright::calib {

// Largest block that may be asked for at once; blocks are multiples of random_block_step.
inline constexpr std::size_t random_block = 256;
inline constexpr std::size_t random_block_step = 16;

class RandomLanes {
public:
    static constexpr std::size_t lanes = 8;

    RandomLanes(std::uint64_t seed, std::uint64_t stream, std::uint64_t substream);
    // The four state words of each lane as they are; for tests against published output.
    explicit RandomLanes(const std::array<std::array<std::uint64_t, lanes>, 4>& state) : state_(state) {}

    void fill_bits(std::span<std::uint64_t> out);
    // offset + factor x a deviate: uniform in (0, 1) and never an end; of mean 0 and standard deviation 1;
    // of Student's t, dof >= least_dof.
    void fill_uniform(std::span<double> out, double offset = 0, double factor = 1);
    void fill_normal(std::span<double> out, double offset = 0, double factor = 1);
    void fill_student(std::span<double> out, double dof, double offset = 0, double factor = 1);

    // Below it the largest deviates would overflow.
    static constexpr double least_dof = 0.2;

private:
    std::array<std::array<std::uint64_t, lanes>, 4> state_{};
};

// SplitMix64's output function, the mixing step used for seeding.
std::uint64_t mixed(std::uint64_t value);

}  // namespace tipwright::calib
