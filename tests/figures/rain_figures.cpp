// Rain: do corrected amounts cover what fell? Gauges of all five kinds are calibrated on the virtual bench
// and stand in virtual rain of three climates; and does a log of ten years go through in a second, in
// constant memory?
//   rain_figures [RUNS of each kind, default 400] [KIND...]
#include <sys/resource.h>

#include <array>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <map>

#include "tests/support/figure.hpp"
#include "tests/support/virtual_season.hpp"

namespace {

using namespace tipwright;
using test::figure;

struct Cover {
    int in = 0;
    int all = 0;
    double low = 0, high = 0;  // share of those below and above
    double relative_U = 0;
    double error = 0;
    double percent() const { return 100.0 * in / std::max(all, 1); }
};

// Drizzle, middle, and heavy showers; invented.
bench::RainClimate climate(int which) {
    bench::RainClimate out;
    if (which == 0) out = {0.8, 10, 0.15, 0.7, 0.9, 0.35};
    if (which == 2) out = {0.4, 6, 0.6, 4, 18, 0.4};
    return out;
}

void study(const std::string& kind, int runs, double counts_s) {
    std::map<std::string, Cover> covers;
    int failed = 0;
    for (int run = 0; run < runs; ++run) {
        test::SeasonInputs in;
        in.run.gauge = kind;
        in.run.plan = "ten-rate";
        in.run.seed = static_cast<std::uint64_t>(run) + 1;
        in.climate = climate(run % 3);
        in.rain_seed = static_cast<std::uint64_t>(run) + 77001;
        in.days = 59;  // two whole months
        in.counts_s = counts_s;
        const auto season = test::run_season(in);
        if (!season.fault.empty()) {
            if (failed++ == 0) std::printf("# %s run %d: %s\n", kind.c_str(), run, season.fault.c_str());
            continue;
        }
        if (std::getenv("RAIN_EACH") != nullptr) {
            const auto& [whole, true_mm] = season.amounts.back();
            std::printf(
                "# run %d climate %d %s: %.3f mm of %.3f, error %.3f %%, U %.3f %%, beyond %.1f tips\n",
                run + 1, run % 3, season.form.c_str(), whole.corrected_mm, true_mm,
                100 * (whole.corrected_mm / true_mm - 1), 100 * whole.U_mm / true_mm, whole.beyond_tips);
        }
        for (const auto& [amount, true_mm] : season.amounts) {
            auto& cover =
                covers[std::string(calib::rain_period_names[static_cast<std::size_t>(amount.period)])];
            const double error = amount.corrected_mm - true_mm;
            ++cover.all;
            cover.in += std::abs(error) <= amount.U_mm ? 1 : 0;
            cover.low += error < -amount.U_mm ? 1 : 0;
            cover.high += error > amount.U_mm ? 1 : 0;
            cover.relative_U += amount.U_mm / amount.corrected_mm;
            cover.error += error / std::max(amount.corrected_mm, 1e-9);
        }
    }
    std::string prefix = "rain_" + kind;
    for (char& c : prefix) c = c == '-' ? '_' : c;
    if (counts_s > 0) prefix += "_counts_" + std::to_string(static_cast<int>(counts_s));
    for (const auto& [name, cover] : covers) {
        std::printf(
            "# %s %s: %.2f %% of %d, below %.2f %%, above %.2f %%, U in the mean %.2f %%, error %.3f %%\n",
            prefix.c_str(), name.c_str(), cover.percent(), cover.all, 100 * cover.low / cover.all,
            100 * cover.high / cover.all, 100 * cover.relative_U / cover.all, 100 * cover.error / cover.all);
        if (name == "minute") continue;
        figure(prefix + "_" + name + "_percent", cover.percent(), "%", ">=", 94);
        figure(prefix + "_" + name + "_percent", cover.percent(), "%", "<=", 96.5);
    }
    figure(prefix + "_failed", failed, "1", "<=", 0);
}

}  // namespace

int main(int argc, char** argv) {
    const int runs = argc > 1 ? std::atoi(argv[1]) : 400;
    std::vector<std::string> kinds(argv + std::min(argc, 2), argv + argc);
    if (kinds.empty())
        kinds = {"bucket-150", "bucket-200-twin", "siphon-200", "magnet-spoon-160", "spoon-100"};
    for (const auto& kind : kinds) study(kind, runs, 0);
}
