// Planning: how long it takes, and how long the shortest plan runs beside ten-rate at the same stated U(h)
// over 6 to 254 mm/h; on the virtual bench, both plans run by the shipped program.
#include <chrono>
#include <cstdlib>
#include <fstream>
#include <nlohmann/json.hpp>
#include <string>

#include "tests/support/figure.hpp"
#include "tests/support/paths.hpp"

using namespace tipwright;

namespace {

std::string quoted(const std::string& text) {
    return "'" + text + "'";
}

struct Run {
    double minutes = 0;
    double U_percent = 0;
};

Run run_of(const std::string& program, const std::string& plan, int seed, const std::string& out) {
    const std::string command = quoted(program) +
                                " calibrate --bench virtual-bench --gauge demo-bucket-200-twin --plan " +
                                quoted(plan) + " --seed " + std::to_string(seed) + " --out " + quoted(out) +
                                " --json >/dev/null 2>&1";
    Run run;
    if (std::system(command.c_str()) != 0) return run;
    std::ifstream in(out + "/record.json");
    const auto record = nlohmann::json::parse(in, nullptr, false);
    if (record.is_discarded()) return run;
    run.minutes = record["bench_duration_s"].get<double>() / 60;
    for (const auto& row : record["evaluation"]["correction"]["rows"])
        run.U_percent =
            std::max(run.U_percent, 100 * row["factor_U"].get<double>() / row["factor"].get<double>());
    return run;
}

}  // namespace

int main() {
    const std::string program = test::binary_dir() + "/tipwright";
    const std::string folder = test::scratch_dir().string();
    bool ok = true;
    double seconds = 0;
    Run ten;
    Run shortest;
    // Stated uncertainties differ from run to run: what counts is their mean, at the time they took together.
    constexpr int runs = 12;
    for (int seed = 1; seed <= runs; ++seed) {
        const std::string name = folder + "/" + std::to_string(seed);
        const Run one = run_of(program, "ten-rate", seed, name + "-ten");
        const std::string plan = name + ".toml";
        const std::string design = quoted(program) +
                                   " plan --gauge demo-bucket-200-twin --bench virtual-bench --record " +
                                   quoted(name + "-ten/record.json") + " --against ten-rate --out " +
                                   quoted(plan) + " >/dev/null 2>&1";
        const auto begun = std::chrono::steady_clock::now();
        ok &= std::system(design.c_str()) == 0;
        seconds = std::max(seconds,
                           std::chrono::duration<double>(std::chrono::steady_clock::now() - begun).count());
        const Run other = run_of(program, plan, seed, name + "-short");
        ok &= one.minutes > 0 && other.minutes > 0;
        ten.minutes += one.minutes / runs;
        ten.U_percent += one.U_percent / runs;
        shortest.minutes += other.minutes / runs;
        shortest.U_percent += other.U_percent / runs;
    }
    ok &= test::figure("plan.time", seconds, "s", "<=", 1);
    ok &= test::figure("plan.bench_time_of_ten_rate", ten.minutes, "min", ">=", 1);
    ok &= test::figure("plan.bench_time_beside_ten_rate",
                       ten.minutes > 0 ? shortest.minutes / ten.minutes : 9, "1", "<=", 1.0 / 3);
    ok &= test::figure("plan.U_beside_ten_rate", ten.U_percent > 0 ? shortest.U_percent / ten.U_percent : 9,
                       "1", "<=", 1.05);
    return ok ? 0 : 1;
}
