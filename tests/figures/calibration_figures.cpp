// The numbers of a 10-step calibration of a 200 mm / 0.2 mm gauge, 6 to 254 mm/h: wall time and memory of the
// shipped program, bench time against the published 8 h for ten rates (Humphrey et al. 1997), and how well
// the virtual truth is recovered over all gauge kinds.
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <chrono>
#include <cmath>
#include <cstdio>
#include <filesystem>

#include "bench/run/sequence.hpp"
#include "tests/support/figure.hpp"
#include "tests/support/paths.hpp"
#include "tests/support/virtual_run.hpp"

using namespace tipwright;

namespace {

using test::figure;

struct Spent {
    double wall_s = 0;
    double memory_MiB = 0;
    bool good = false;
};

Spent run_program(const std::filesystem::path& program, std::vector<std::string> arguments) {
    const auto start = std::chrono::steady_clock::now();
    const pid_t child = ::fork();
    if (child == 0) {
        cpu_set_t one;
        CPU_ZERO(&one);
        CPU_SET(0, &one);
        ::sched_setaffinity(0, sizeof one, &one);
        if (std::freopen("/dev/null", "w", stdout) == nullptr) std::_Exit(126);
        std::vector<char*> argv;
        std::string name = program.string();
        argv.push_back(name.data());
        for (auto& argument : arguments) argv.push_back(argument.data());
        argv.push_back(nullptr);
        ::execv(name.c_str(), argv.data());
        std::_Exit(127);
    }
    int status = 0;
    rusage used{};
    ::wait4(child, &status, 0, &used);
    return {std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count(),
            static_cast<double>(used.ru_maxrss) / 1024, WIFEXITED(status) && WEXITSTATUS(status) == 0};
}

void time_and_memory() {
    const std::filesystem::path program = std::filesystem::path(tipwright::test::binary_dir()) / "tipwright";
    const std::filesystem::path out =
        std::filesystem::temp_directory_path() / ("tipwright-figures-" + std::to_string(::getpid()));
    double reference_s = 1e9;
    double best_s = 1e9;
    double memory_MiB = 0;
    bool good = true;
    for (int round = 0; round < 5; ++round) {
        reference_s = std::min(reference_s, run_program(program, {"--version"}).wall_s);
        std::filesystem::remove_all(out);
        const Spent spent =
            run_program(program, {"calibrate", "--bench", "virtual-bench", "--gauge", "demo-bucket-200-twin",
                                  "--plan", "ten-rate", "--out", out.string()});
        best_s = std::min(best_s, spent.wall_s);
        memory_MiB = std::max(memory_MiB, spent.memory_MiB);
        good = good && spent.good;
    }
    std::filesystem::remove_all(out);
    figure("ten_rate_program_start_reference_s", reference_s, "s", "<=", 1);
    figure("ten_rate_calibration_wall_s", good ? best_s : 1e9, "s", "<=", 1);
    figure("ten_rate_calibration_memory_MiB", memory_MiB, "MiB", "<=", 64);
}

void bench_time() {
    test::VirtualRunInputs in;
    in.plan = "ten-rate";
    in.with_truth = false;
    const auto run = test::run_virtual(in);
    double largest_U = run.end.complete && run.evaluation ? 0 : 1e9;
    double tips_need_s = 0;
    if (run.evaluation) {
        for (const auto& step : run.evaluation->steps) {
            largest_U = std::max(largest_U, step.error_expanded.U);
            tips_need_s += *step.observation.duration_s;
        }
    }
    figure("ten_rate_largest_U_percent", largest_U, "%", "<=", 1);
    figure("ten_rate_bench_time_h", run.bench_time_s / 3600, "h", "<=", 2);
    figure("ten_rate_published_over_bench_time", 8 * 3600 / run.bench_time_s, "1", ">=", 4);
    figure("ten_rate_bench_time_over_tips_need", run.bench_time_s / tips_need_s, "1", "<=", 1.5);
}

void truth_recovered() {
    constexpr int seeds = 40;
    int inside_all = 0;
    int all = 0;
    for (const std::string kind :
         {"bucket-150", "bucket-200-twin", "siphon-200", "magnet-spoon-160", "spoon-100"}) {
        int inside = 0;
        int count = 0;
        int V0_inside = 0;
        int tau_inside = 0;
        int fits = 0;
        double bias = 0;
        for (std::uint64_t seed = 1; seed <= seeds; ++seed) {
            test::VirtualRunInputs in;
            in.gauge = kind;
            in.plan = "five-point-as-found";
            in.seed = seed;
            const auto run = test::run_virtual(in);
            if (!run.end.complete || !run.evaluation) {
                std::printf("# %s seed %d: %s\n", kind.c_str(), static_cast<int>(seed),
                            run.end.fault ? run.end.fault->line().c_str() : run.fault.c_str());
                count += 5;
                continue;
            }
            for (std::size_t k = 0; k < run.truth.size(); ++k) {
                const auto& step = run.evaluation->steps[k];
                const double z =
                    (step.error_percent.value - run.truth[k].error_percent) / step.error_expanded.U;
                bias += z;
                inside += std::abs(z) <= 1 ? 1 : 0;
                ++count;
            }
            const auto* fit = run.evaluation->model->chosen_candidate();
            if (fit != nullptr && fit->form == calib::RateForm::line) {
                ++fits;
                const auto within = [&](std::size_t k, double truth) {
                    return std::abs(fit->parameters[k].value - truth) <=
                           calib::expanded(fit->parameters[k]).U;
                };
                V0_inside += within(0, run.line.v0_mL) ? 1 : 0;
                tau_inside += within(1, run.line.tau_s) ? 1 : 0;
            }
        }
        const std::string name = "truth_" + kind;
        figure((name + "_inside_percent").c_str(), 100.0 * inside / count, "%", ">=", 90);
        figure((name + "_bias_in_U").c_str(), std::abs(bias / count), "U", "<=", 1.0 / 3);
        if (fits > 20) {
            figure((name + "_V0_inside_percent").c_str(), 100.0 * V0_inside / fits, "%", ">=", 85);
            figure((name + "_tau_inside_percent").c_str(), 100.0 * tau_inside / fits, "%", ">=", 85);
        }
        inside_all += inside;
        all += count;
    }
    figure("truth_all_inside_percent", 100.0 * inside_all / all, "%", ">=", 92);
    figure("truth_all_inside_percent", 100.0 * inside_all / all, "%", "<=", 98);
}

}  // namespace

int main() {
    time_and_memory();
    bench_time();
    truth_recovered();
}
