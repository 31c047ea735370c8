// What the page costs and what it withstands, measured on the shipped program by page_figures.py: its CPU and
// memory with 16 lanes and 10 browsers, a tip's way to the browser and to the journal, the first screen, a
// list of a million certificates, runs with the page killed again and again, hostile requests. Each line
// stands there as soon as it is measured. Arguments: kills (200), hostile requests (20000), parts of
// page_figures.py (all). REGISTER_FIGURES_CERTIFICATES makes a smaller list.
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <set>
#include <string>

#include "tests/support/figure.hpp"
#include "tests/support/paths.hpp"

namespace {

struct Limit {
    const char* part;
    const char* name;
    const char* unit;
    const char* op;
    double limit;
};

constexpr double as_asked = -1;  // as many as the arguments ask for

constexpr Limit limits[] = {
    {"costs", "cpu_of_a_core", "%", "<=", 10},
    {"costs", "memory", "MiB", "<=", 64},
    {"costs", "tip_to_browser_p99", "ms", "<=", 300},
    {"costs", "first_screen_time", "ms", "<=", 150},
    {"costs", "first_screen", "kB", "<=", 60},
    {"tips_to_journal", "tip_to_journal_p99_ratio", "times", "<=", 1.2},
    {"stop_by_tap", "tap_beyond_ctrl_c_p99", "s", "<=", 0.3},
    {"lists", "list_p99", "ms", "<=", 50},
    {"killed", "kills", "kills", ">=", as_asked},
    {"killed", "journals_that_differ", "journals", "<=", 0},
    {"scripts", "hostile_scripts_run", "screens", "<=", 0},
    {"attacked", "hostile_requests", "requests", ">=", as_asked},
    {"attacked", "hostile_runs_disturbed", "runs", "<=", 0},
    {"attacked", "hostile_commands_done", "commands", "<=", 0},
    {"attacked", "hostile_files_read", "files", "<=", 0},
    {"attacked", "hostile_page_gone", "times", "<=", 0},
};

}  // namespace

int main(int argc, char** argv) {
    namespace test = tipwright::test;
    const std::string kills = argc > 1 ? argv[1] : "200";
    const std::string hostile = argc > 2 ? argv[2] : "20000";
    std::string parts;
    std::set<std::string> wanted;
    for (int k = 3; k < argc; ++k) {
        parts += " '" + std::string(argv[k]) + "'";
        wanted.insert(argv[k]);
    }
    const auto line_of = [&](const Limit& one, double value) {
        const double limit =
            one.limit != as_asked ? one.limit : std::atof((one.name[0] == 'k' ? kills : hostile).c_str());
        return test::figure(std::string("page_") + one.name, value, one.unit, one.op, limit);
    };
    // Debian's own, which has Debian's selenium.
    const std::string command = "/usr/bin/python3 '" + test::source_dir() +
                                "/tests/figures/page_figures.py' '" + test::binary_dir() + "/tipwright' '" +
                                test::binary_dir() + "/tests/register_figures' '" + kills + "' '" + hostile +
                                "'" + parts;
    std::FILE* driver = ::popen(command.c_str(), "r");
    if (driver == nullptr) return 1;
    std::set<std::string> measured;
    bool ok = true;
    char line[4096];
    while (std::fgets(line, sizeof line, driver) != nullptr) {
        char name[200];
        double value = 0;
        bool known = false;
        if (std::sscanf(line, "measured %199s %lf", name, &value) == 2)
            for (const Limit& one : limits)
                if (std::strcmp(one.name, name) == 0) {
                    known = true;
                    measured.insert(name);
                    ok = line_of(one, value) && ok;
                }
        if (!known) std::fputs(line, stdout);
        std::fflush(stdout);
    }
    ok = ::pclose(driver) == 0 && ok;
    // What was not measured meets no limit.
    for (const Limit& one : limits)
        if ((wanted.empty() || wanted.contains(one.part)) && !measured.contains(one.name))
            ok = line_of(one, one.op[0] == '<' ? 1e9 : 0) && ok;
    return ok ? 0 : 1;
}
