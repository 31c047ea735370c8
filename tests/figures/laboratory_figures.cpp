// How often the control charts give a false alarm, and how soon they see a shift, against published run
// lengths; how often intervals of variance parts hold the truth; speed.
// Arguments: number of sequences (default 20000).
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <ctime>

#include "bench/virtual_bench/random.hpp"
#include "calib/laboratory/check_gauge.hpp"
#include "tests/support/check_gauge_step.hpp"
#include "tests/support/figure.hpp"
#include "tests/support/one_way_anova.hpp"

namespace {

using namespace tipwright;
using namespace tipwright::calib;
using test::figure;

// Values until the first signal, in the mean: limits given, values of a normal distribution that is off by
// `shift` standard deviations. Sequences are long enough that fewer than 1 in 1000 end without one.
double run_length(const ControlSettings& settings, double shift, int sequences, std::uint64_t seed,
                  std::size_t longest) {
    bench::Random dice(seed, 1);
    double sum = 0;
    std::vector<double> values;
    for (int n = 0; n < sequences; ++n) {
        // Twice as many as before, until one of them signals.
        values.clear();
        std::size_t found = longest;
        for (std::size_t length = 32; found == longest && values.size() < longest; length *= 2) {
            while (values.size() < std::min(length, longest)) values.push_back(shift + dice.normal());
            const auto chart = control_chart(values, settings);
            if (chart && !chart->signals.empty()) found = chart->signals.front().at + 1;
        }
        sum += static_cast<double>(found);
    }
    return sum / sequences;
}

ControlSettings known() {
    ControlSettings out;
    out.centre = 0;
    out.sd = 1;
    return out;
}

void within(const std::string& name, double value, double published, double share) {
    figure(name, value, "runs", ">=", published * (1 - share));
    figure(name, value, "runs", "<=", published * (1 + share));
}

void run_lengths(int sequences) {
    // Champ & Woodall 1987, table 1 (from memory): 91.75 without a shift, 9.22 at one standard deviation; of
    // the limits alone 370.40. Runs of eight and the like are counted as there.
    ControlSettings rules = known();
    rules.weighted_mean = false;
    within("laboratory_run_length_rules", run_length(rules, 0, sequences, 1, 4096), 91.75, 0.04);
    within("laboratory_run_length_rules_shifted", run_length(rules, 1, sequences, 2, 1024), 9.22, 0.04);
    ControlSettings limits = rules;
    limits.runs_rules = false;
    within("laboratory_run_length_limits", run_length(limits, 0, sequences / 4, 3, 8192), 370.4, 0.06);
    // Lucas & Saccucci 1990, table 1 (from memory): lambda 0.20, L 2.962: 500, and 10.5 at one standard
    // deviation, there with limits of their final width; these widen from the start, so that early shifts are
    // seen sooner.
    ControlSettings mean = limits;
    mean.weighted_mean = true;
    mean.tail = 1e-9;
    within("laboratory_run_length_weighted", run_length(mean, 0, sequences / 4, 4, 8192), 500, 0.06);
    figure("laboratory_run_length_weighted_shifted", run_length(mean, 1, sequences, 5, 1024), "runs",
           "<=", 10.5);
}

// A whole check gauge of eight intensities: ten runs set the limits, the eleventh is judged.
double alarms(double shift, int gauges, std::uint64_t seed) {
    bench::Random dice(seed, 2);
    int alarmed = 0;
    for (int n = 0; n < gauges; ++n) {
        std::vector<CheckRun> runs;
        for (int r = 0; r < 11; ++r) {
            CheckRun run;
            run.moment = "2031-01-" + std::to_string(10 + r) + "T08:00:00Z";
            const double common = 0.05 * dice.normal() + (r == 10 ? shift : 0);
            for (int i = 1; i <= 8; ++i)
                run.steps.push_back(test::check_gauge_step(10.0 * i, common + 0.1 * dice.normal()));
            runs.push_back(std::move(run));
        }
        const auto analysis = analyse_check_gauge(runs);
        alarmed += analysis && analysis->alarm() ? 1 : 0;
    }
    return 100.0 * alarmed / gauges;
}

// Four benches, five days on each, three runs a day, a few missing: how often each interval holds the truth.
void parts(int samples) {
    bench::Random dice(7, 3);
    const double truth[3] = {0.15, 0.08, 0.10};
    int inside[3] = {0, 0, 0}, all = 0;
    for (int n = 0; n < samples; ++n) {
        std::vector<double> values;
        VarianceFactor bench{"bench", {}}, day{"day", {}};
        for (int b = 0; b < 4; ++b) {
            const double of_bench = truth[0] * dice.normal();
            for (int d = 0; d < 5; ++d) {
                const double of_day = truth[1] * dice.normal();
                for (int r = 0; r < (d == b ? 2 : 3); ++r) {
                    values.push_back(-2 + of_bench + of_day + truth[2] * dice.normal());
                    bench.level.push_back(b);
                    day.level.push_back(10 * b + d);
                }
            }
        }
        const auto got = part_variances(values, {bench, day});
        if (!got || got->parts.size() != 3) continue;
        ++all;
        for (std::size_t k = 0; k < 3; ++k)
            inside[k] += got->parts[k].low_sd <= truth[k] && truth[k] <= got->parts[k].high_sd ? 1 : 0;
    }
    const char* names[3] = {"bench", "day", "repeat"};
    for (std::size_t k = 0; k < 3; ++k) {
        const double percent = 100.0 * inside[k] / std::max(all, 1);
        figure(std::string("laboratory_interval_") + names[k] + "_percent", percent, "%", ">=", 94);
        figure(std::string("laboratory_interval_") + names[k] + "_percent", percent, "%", "<=", 97);
    }
    figure("laboratory_interval_failed", samples - all, "1", "<=", 0);
}

void speed() {
    bench::Random dice(9, 4);
    std::vector<CheckRun> runs;
    for (int r = 0; r < 500; ++r) {
        CheckRun run;
        char moment[32];
        std::snprintf(moment, sizeof moment, "20%02d-%02d-%02dT08:00:00Z", 10 + r / 336, 1 + r / 28 % 12,
                      1 + r % 28);
        run.moment = moment;
        run.bench = r % 2 == 0 ? "A" : "B";
        run.operator_name = r % 3 == 0 ? "X" : "Y";
        for (int i = 1; i <= 10; ++i)
            run.steps.push_back(test::check_gauge_step(20.0 * i, 0.1 * dice.normal()));
        runs.push_back(std::move(run));
    }
    // Two runs of a day.
    for (std::size_t r = 1; r < runs.size(); r += 2) runs[r].moment = runs[r - 1].moment;
    const auto begun = std::clock();
    const auto analysis = analyse_check_gauge(runs);
    figure("laboratory_500_runs_failed", analysis ? 0 : 1, "1", "<=", 0);
    figure("laboratory_500_runs_s", static_cast<double>(std::clock() - begun) / CLOCKS_PER_SEC, "s", "<=", 5);
}

}  // namespace

int main(int argc, char** argv) {
    const int sequences = argc > 1 ? std::max(200, std::atoi(argv[1])) : 20000;
    speed();
    run_lengths(sequences);
    figure("laboratory_false_alarms_percent", alarms(0, sequences / 10, 11), "%", "<=", 3);
    // The mean of eight has a standard deviation of 0.061; half a per cent is eight of them.
    figure("laboratory_alarms_at_half_a_percent", alarms(0.5, sequences / 20, 12), "%", ">=", 90);
    parts(sequences / 10);
}
