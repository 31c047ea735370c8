// Rate of the Monte Carlo check of a step with twelve inputs against numpy's vectorised rate, measured in
// the same run, and how it scales to a second core. Prints figure lines; see tests/figures.sh.
#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <ctime>
#include <sstream>
#include <string>

#include "calib/rate/step_monte_carlo.hpp"
#include "tests/support/paths.hpp"

using namespace tipwright::calib;

namespace {

constexpr std::size_t trials = 2'000'000;
constexpr int repetitions = 10;

StepResult twelve_input_step() {
    Gauge gauge;
    gauge.nominal_tip_mm = 0.2;
    gauge.catch_diameter_mm = {200, 0.1, infinite_dof};
    BenchMetrology bench;
    bench.evaporation_g_h = {0.3, 0.1, infinite_dof};
    bench.residual_u_g = 0;
    bench.balance.zero_drift_half_width_g_h = 0;
    StepObservation observation;
    observation.step = 1;
    observation.tips = 40;
    observation.duration_s = 600;
    observation.balance_difference_g = 250.6;
    observation.weighing_scatter_u_g = 0.01;
    observation.scatter = {0.8, 19, "intervals"};
    return *evaluate_step(observation, gauge, bench);
}

// What the reference needs to know; counts the inputs that act on e or v.
std::string description(const StepResult& step, int& inputs) {
    std::ostringstream text;
    text.precision(17);
    inputs = 0;
    for (const BudgetComponent& c : step.budget) {
        if (c.dlnV == 0 && c.dlnv == 0 && c.dlnA == 0) continue;
        ++inputs;
        const char* shape = "normal";
        double scale = c.u;
        if (c.distribution == Distribution::rectangular) {
            shape = "rectangular";
            scale *= std::sqrt(3.0);
        } else if (c.distribution == Distribution::triangular) {
            shape = "triangular";
            scale *= std::sqrt(6.0);
        } else if (std::isfinite(c.dof)) {
            shape = "student";
        }
        const bool mass = c.unit == "g" || c.unit == "g/h";
        text << shape << ' ' << scale << ' ' << (std::isfinite(c.dof) ? c.dof : 0) << ' '
             << (c.id == "water_temperature" ? "water_temperature"
                 : mass                      ? "mass"
                                             : "factor")
             << ' ' << c.dlnV << ' ' << c.dlnv << ' ' << c.dlnA << ' ' << c.value << '\n';
    }
    text << "model " << step.volume_per_tip_mL.value << ' ' << 1 + step.error_percent.value / 100 << '\n';
    return text.str();
}

struct Rates {
    double processor = 0;  // trials per second of processor time, all threads together
    double wall = 0;
};

double processor_seconds() {
    return static_cast<double>(std::clock()) / CLOCKS_PER_SEC;
}

Rates rate(const StepResult& step, int threads, StepMonteCarlo& result) {
    StepMonteCarloOptions options;
    options.max_trials = trials;
    options.adaptive = false;
    options.threads = threads;
    const double processor_start = processor_seconds();
    const auto start = std::chrono::steady_clock::now();
    result = *monte_carlo_of(step, options);
    const double wall = std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
    const auto done = static_cast<double>(result.trials);
    return {done / (processor_seconds() - processor_start), done / wall};
}

}  // namespace

int main() {
    const StepResult step = twelve_input_step();
    int inputs = 0;
    const std::string text = description(step, inputs);
    if (inputs != 12) {
        std::fprintf(stderr, "the step has %d inputs, not 12\n", inputs);
        return 1;
    }

    // numpy's best chunk of those tried, with our own runs between, so that both see the same machine. The
    // comparison is of processor time, which other programs on the machine disturb less; the second core
    // shows only in wall time, of which the best counts.
    double numpy_rate = 0;
    double one = 0;
    double one_wall = 0;
    double two_wall = 0;
    double means[4] = {};
    StepMonteCarlo result;
    for (const int chunk : {4096, 16384, 65536, 262144}) {
        const std::string command = "env -u OPENBLAS_CORETYPE /usr/bin/python3 " +
                                    tipwright::test::source_dir() +
                                    "/tests/figures/monte_carlo_reference.py " + std::to_string(trials) +
                                    " " + std::to_string(chunk) + " 2 <<'END'\n" + text + "END\n";
        FILE* pipe = popen(command.c_str(), "r");
        double drawn = 0;
        double whole = 0;
        const int read = pipe == nullptr ? 0
                                         : std::fscanf(pipe, "%lf %lf %lf %lf %lf %lf", &drawn, &whole,
                                                       &means[0], &means[1], &means[2], &means[3]);
        if (pipe != nullptr) pclose(pipe);
        if (read != 6) {
            std::fprintf(stderr, "numpy reference did not run\n");
            return 1;
        }
        numpy_rate = std::max(numpy_rate, whole);
        for (int i = 0; i < repetitions; ++i) {
            const Rates single = rate(step, 1, result);
            one = std::max(one, single.processor);
            one_wall = std::max(one_wall, single.wall);
            two_wall = std::max(two_wall, rate(step, 2, result).wall);
        }
    }
    // The two must have computed the same thing.
    const double spread = 5 * result.error_percent.u / std::sqrt(static_cast<double>(trials));
    if (!(std::abs(means[0] - result.error_percent.mean) < 2 * spread &&
          std::abs(means[1] / result.error_percent.u - 1) < 0.01)) {
        std::fprintf(stderr, "numpy gives %.9g +- %.9g, we %.9g +- %.9g\n", means[0], means[1],
                     result.error_percent.mean, result.error_percent.u);
        return 1;
    }
    const auto figure = [](const char* name, double value, const char* unit, double limit) {
        std::printf("figure %s %.3g %s limit >= %g %s\n", name, value, unit, limit,
                    value >= limit ? "ok" : "short");
    };
    std::printf("monte carlo of a 12-input step: numpy %.3g trials/s, one core %.3g, two cores %.3g\n",
                numpy_rate, one, two_wall);
    figure("monte_carlo_against_numpy", one / numpy_rate, "times", 6);
    figure("monte_carlo_second_core", two_wall / one_wall, "times", 1.8);
    return 0;
}
