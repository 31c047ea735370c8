// What the page costs and what it withstands, measured on the shipped program by page_figures.py: its CPU and
// memory with 16 lanes and 10 browsers, a tip's way to the browser and to the journal, the first screen, runs
// with the page killed again and again, hostile requests. Arguments: kills (200), hostile requests (20000).
#include <cstdio>
#include <cstdlib>
#include <map>
#include <string>

#include "tests/support/figure.hpp"
#include "tests/support/paths.hpp"

int main(int argc, char** argv) {
    namespace test = tipwright::test;
    const std::string kills = argc > 1 ? argv[1] : "200";
    const std::string hostile = argc > 2 ? argv[2] : "20000";
    const std::string command = "python3 '" + test::source_dir() + "/tests/figures/page_figures.py' '" +
                                test::binary_dir() + "/tipwright' '" + kills + "' '" + hostile + "'";
    std::FILE* driver = ::popen(command.c_str(), "r");
    if (driver == nullptr) return 1;
    std::map<std::string, double> measured;
    char line[4096];
    while (std::fgets(line, sizeof line, driver) != nullptr) {
        char name[200];
        double value = 0;
        if (std::sscanf(line, "measured %199s %lf", name, &value) == 2)
            measured[name] = value;
        else
            std::fputs(line, stdout);
    }
    ::pclose(driver);
    struct Limit {
        const char* name;
        const char* unit;
        const char* op;
        double limit;
    };
    const Limit limits[] = {
        {"tip_to_browser_p99", "ms", "<=", 300},
        {"cpu_of_a_core", "%", "<=", 10},
        {"memory", "MiB", "<=", 64},
        {"tip_to_journal_p99_ratio", "times", "<=", 1.2},
        {"first_screen", "kB", "<=", 60},
        {"first_screen_time", "ms", "<=", 150},
        {"tap_to_signal_p99", "s", "<=", 0.3},
        {"kills", "kills", ">=", std::atof(kills.c_str())},
        {"journals_that_differ", "journals", "<=", 0},
        {"hostile_requests", "requests", ">=", std::atof(hostile.c_str())},
        {"hostile_runs_disturbed", "runs", "<=", 0},
        {"hostile_files_read", "files", "<=", 0},
        {"hostile_commands_done", "commands", "<=", 0},
        {"hostile_page_gone", "times", "<=", 0},
    };
    bool ok = true;
    for (const Limit& one : limits) {
        const auto found = measured.find(one.name);
        // What was not measured meets no limit.
        const double value = found != measured.end() ? found->second : one.op[0] == '<' ? 1e9 : -1;
        ok = test::figure(std::string("page_") + one.name, value, one.unit, one.op, one.limit) && ok;
    }
    return ok ? 0 : 1;
}
