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

Run run_of(const std::string& program, const std::string& plan, const std::string& out) {
    const std::string command = quoted(program) +
                                " calibrate --bench virtual-bench --gauge demo-bucket-200-twin --plan " +
                                quoted(plan) + " --out " + quoted(out) + " --json >/dev/null 2>&1";
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
    const std::string plan = folder + "/shortest.toml";
    bool ok = true;
    const Run ten = run_of(program, "ten-rate", folder + "/ten");
    const auto begun = std::chrono::steady_clock::now();
    const std::string design = quoted(program) +
                               " plan --gauge demo-bucket-200-twin --bench virtual-bench --record " +
                               quoted(folder + "/ten/record.json") + " --against ten-rate --out " +
                               quoted(plan) + " >/dev/null 2>&1";
    ok &= std::system(design.c_str()) == 0;
    const double seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - begun).count();
    const Run shortest = run_of(program, plan, folder + "/short");
    ok &= test::figure("plan.time", seconds, "s", "<=", 1);
    ok &= test::figure("plan.bench_time_of_ten_rate", ten.minutes, "min", ">=", 1);
    ok &= test::figure("plan.bench_time_beside_ten_rate",
                       ten.minutes > 0 && shortest.minutes > 0 ? shortest.minutes / ten.minutes : 9, "1",
                       "<=", 1.0 / 3);
    ok &= test::figure("plan.U_beside_ten_rate", ten.U_percent > 0 ? shortest.U_percent / ten.U_percent : 9,
                       "1", "<=", 1.02);
    return ok ? 0 : 1;
}
