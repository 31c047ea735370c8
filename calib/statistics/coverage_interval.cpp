#include "calib/statistics/coverage_interval.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>

namespace tipwright::calib {

namespace {

constexpr std::size_t sample_size = 256;

// Limits that leave a little more than `count` values on either side, guessed from a sample.
Interval likely_limits(std::span<const double> values, std::size_t count) {
    std::array<double, sample_size> sample;
    for (std::size_t i = 0; i < sample_size; ++i) sample[i] = values[i * values.size() / sample_size];
    std::sort(sample.begin(), sample.end());
    const double share = static_cast<double>(count) / static_cast<double>(values.size());
    const double spread = std::sqrt(share * (1 - share) / sample_size);
    const auto rank =
        std::min(static_cast<std::size_t>((share + 3 * spread) * sample_size) + 1, sample_size - 1);
    return {sample[rank], sample[sample_size - 1 - rank]};
}

// Sorting values that lie smoothly between their ends: into as many cells as there are values, then within
// the cells. Anything else still comes out sorted, by the ordinary sort inside crowded cells.
void sort_smooth(std::vector<double>& values) {
    constexpr std::size_t few = 512;
    constexpr std::size_t crowded = 24;
    constexpr std::size_t most = 1u << 30;  // cells are counted in 32 bits
    const std::size_t n = values.size();
    if (n < few || n > most) {
        std::sort(values.begin(), values.end());
        return;
    }
    const auto [least, greatest] = std::minmax_element(values.begin(), values.end());
    const double origin = *least;
    const double scale = static_cast<double>(n - 1) / (*greatest - origin);
    if (!(scale > 0) || !std::isfinite(scale)) {
        std::sort(values.begin(), values.end());
        return;
    }
    const auto cell_of = [&](double value) { return static_cast<std::uint32_t>((value - origin) * scale); };
    std::vector<std::uint32_t> start(n + 1, 0);
    for (const double value : values) ++start[cell_of(value) + 1];
    for (std::size_t i = 0; i < n; ++i) start[i + 1] += start[i];
    std::vector<double> sorted(n);
    for (const double value : values) sorted[start[cell_of(value)]++] = value;
    // start[c] is now the end of cell c.
    std::size_t begin = 0;
    for (std::size_t c = 0; c < n; ++c) {
        const std::size_t end = start[c];
        if (end - begin > crowded) {
            std::sort(sorted.begin() + static_cast<std::ptrdiff_t>(begin),
                      sorted.begin() + static_cast<std::ptrdiff_t>(end));
        } else {
            for (std::size_t i = begin + 1; i < end; ++i) {
                const double value = sorted[i];
                std::size_t j = i;
                for (; j > begin && sorted[j - 1] > value; --j) sorted[j] = sorted[j - 1];
                sorted[j] = value;
            }
        }
        begin = end;
    }
    values = std::move(sorted);
}

// r = (M - q)/2, or half up when that is no whole number; zero-based.
std::size_t middle_rank(std::size_t outside) {
    return (outside + 1) / 2 - 1;
}

// The `count` lowest of `low`, the `count` highest of `high`.
void cut(std::vector<double>& low, std::vector<double>& high, std::size_t count) {
    const auto n = static_cast<std::ptrdiff_t>(count);
    if (low.size() > count) {
        std::nth_element(low.begin(), low.begin() + n, low.end());
        low.resize(count);
    }
    if (high.size() > count) {
        std::nth_element(high.begin(), high.end() - n - 1, high.end());
        high.erase(high.begin(), high.end() - n);
    }
}

// All values outside the limits. Without branches, which would be guessed wrong often: every value is
// written, and the place moves on only past those that belong.
Tails gathered(std::span<const double> values, const Interval& limits, std::size_t expected) {
    constexpr std::size_t piece = 512;
    std::array<double, piece + 1> low;
    std::array<double, piece + 1> high;
    Tails tails;
    tails.low_limit = limits.low;
    tails.high_limit = limits.high;
    tails.low.reserve(expected + expected / 4);
    tails.high.reserve(expected + expected / 4);
    for (std::size_t start = 0; start < values.size(); start += piece) {
        std::size_t below = 0;
        std::size_t above = 0;
        for (const double value : values.subspan(start, std::min(piece, values.size() - start))) {
            low[below] = value;
            high[above] = value;
            below += value <= limits.low ? 1 : 0;
            above += value >= limits.high ? 1 : 0;
        }
        tails.low.insert(tails.low.end(), low.begin(), low.begin() + static_cast<std::ptrdiff_t>(below));
        tails.high.insert(tails.high.end(), high.begin(), high.begin() + static_cast<std::ptrdiff_t>(above));
    }
    return tails;
}

}  // namespace

std::size_t values_outside(std::size_t trials, double coverage) {
    const auto inside = static_cast<std::size_t>(std::floor(coverage * static_cast<double>(trials) + 0.5));
    return trials - std::min(inside, trials - 1);
}

Tails tails_of(std::span<const double> values, std::size_t count, double low_limit, double high_limit) {
    const std::size_t total = values.size();
    count = std::min(count, total);
    Interval limits{low_limit, high_limit};
    if (total >= 4 * sample_size && 4 * count <= total) {
        if (!std::isfinite(low_limit) || !std::isfinite(high_limit)) limits = likely_limits(values, count);
        Tails tails = gathered(values, limits, count);
        if (tails.low.size() >= count && tails.high.size() >= count) return tails;
    }
    Tails tails;
    tails.low.assign(values.begin(), values.end());
    tails.high = tails.low;
    cut(tails.low, tails.high, count);
    tails.low_limit = *std::max_element(tails.low.begin(), tails.low.end());
    tails.high_limit = *std::min_element(tails.high.begin(), tails.high.end());
    return tails;
}

Interval symmetric_interval(std::vector<double>& low, std::vector<double>& high, std::size_t outside) {
    const std::size_t rank = middle_rank(outside);
    const auto low_end = low.begin() + static_cast<std::ptrdiff_t>(rank);
    std::nth_element(low.begin(), low_end, low.end());
    const auto high_end = high.end() - static_cast<std::ptrdiff_t>(outside - rank);
    std::nth_element(high.begin(), high_end, high.end());
    return {*low_end, *high_end};
}

CoverageIntervals intervals_from(std::vector<double>& low, std::vector<double>& high, std::size_t outside) {
    // Tails hardly longer than needed are sorted whole; that is quicker than selecting first.
    if (2 * low.size() > 3 * outside || 2 * high.size() > 3 * outside) cut(low, high, outside);
    sort_smooth(low);
    sort_smooth(high);
    low.resize(outside);
    high.erase(high.begin(), high.end() - static_cast<std::ptrdiff_t>(outside));
    CoverageIntervals result;
    std::size_t best = middle_rank(outside);
    result.symmetric = {low[best], high[best]};
    for (std::size_t r = 0; r < outside; ++r) {
        if (high[r] - low[r] < high[best] - low[best]) best = r;
    }
    result.shortest = {low[best], high[best]};
    return result;
}

CoverageIntervals coverage_intervals(std::span<const double> values, double coverage) {
    if (values.empty()) return {};
    const std::size_t outside = values_outside(values.size(), coverage);
    constexpr double unknown = std::numeric_limits<double>::infinity();
    Tails tails = tails_of(values, outside, unknown, unknown);
    return intervals_from(tails.low, tails.high, outside);
}

}  // namespace tipwright::calib
