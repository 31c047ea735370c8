#include "bench/descriptions/nearest.hpp"

#include <algorithm>
#include <cstddef>

namespace tipwright::bench {

namespace {

std::size_t distance(std::string_view a, std::string_view b) {
    std::vector<std::vector<std::size_t>> d(a.size() + 1, std::vector<std::size_t>(b.size() + 1));
    for (std::size_t i = 0; i <= a.size(); ++i) d[i][0] = i;
    for (std::size_t j = 0; j <= b.size(); ++j) d[0][j] = j;
    for (std::size_t i = 1; i <= a.size(); ++i)
        for (std::size_t j = 1; j <= b.size(); ++j) {
            d[i][j] = std::min({d[i - 1][j] + 1, d[i][j - 1] + 1, d[i - 1][j - 1] + (a[i - 1] != b[j - 1])});
            if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1])
                d[i][j] = std::min(d[i][j], d[i - 2][j - 2] + 1);
        }
    return d[a.size()][b.size()];
}

}  // namespace

std::string nearest(std::string_view name, const std::vector<std::string>& known) {
    std::string best;
    std::size_t least = (name.size() < 4 ? 1 : std::max<std::size_t>(2, name.size() / 4)) + 1;
    for (const std::string& candidate : known) {
        // A name cut short or drawn out, for example without its unit, is near however long the rest.
        const bool begins = std::min(name.size(), candidate.size()) >= 4 &&
                            (candidate.starts_with(name) || name.starts_with(candidate));
        const std::size_t away =
            begins ? std::min<std::size_t>(distance(name, candidate), 2) : distance(name, candidate);
        if (away >= least) continue;
        least = away;
        best = candidate;
    }
    return best;
}

}  // namespace tipwright::bench
