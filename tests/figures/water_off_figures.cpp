// The campaign water_off, driven by water_off.py: pumps that still run two seconds after a cause to stop
// them, without "pull the plug" on the terminal and in the journal. Where the display (standard output) is
// closed, full or hangs, the words go to standard error instead, and those count: what hangs both cannot be
// told anything, and the journal alone has it then. A program that was killed (SIGKILL) can tell nothing:
// there the pump's own time limit must have stopped it. Arguments: number of runs (2000), first seed (1), how
// many at a time (1).
#include <cstdio>
#include <cstdlib>
#include <string>

#include "tests/support/figure.hpp"
#include "tests/support/paths.hpp"

int main(int argc, char** argv) {
    namespace test = tipwright::test;
    const int runs = argc > 1 ? std::atoi(argv[1]) : 2000;
    const int first = argc > 2 ? std::atoi(argv[2]) : 1;
    const int at_a_time = argc > 3 ? std::atoi(argv[3]) : 1;
    const std::string command = "python3 '" + test::source_dir() + "/tests/figures/water_off.py' '" +
                                test::binary_dir() + "/tipwright' '" + test::source_dir() + "/templates' " +
                                std::to_string(runs) + " " + std::to_string(first) + " " +
                                std::to_string(at_a_time);
    std::FILE* driver = ::popen(command.c_str(), "r");
    if (driver == nullptr) return 1;
    int judged = 0;
    int wrong = -1;
    char line[4096];
    while (std::fgets(line, sizeof line, driver) != nullptr) {
        if (std::sscanf(line, "judged %d short %d", &judged, &wrong) == 2) continue;
        std::fputs(line, stdout);
        std::fflush(stdout);
    }
    ::pclose(driver);
    // A run in which no water flowed proves nothing; most must.
    bool ok = test::figure("water_off_runs_judged", judged, "runs", ">=", 0.9 * runs);
    ok = test::figure("water_off_pumps_running", wrong < 0 ? 1e9 : wrong, "pumps", "<=", 0) && ok;
    return ok ? 0 : 1;
}
