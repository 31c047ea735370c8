// Hostile instruments, driven by tests/attacks/hostile_instruments.py: what no instrument should send, in
// every role, from the start and once water flows. Arguments: number of instruments (0, the default: all),
// the first, how many at a time (1). The floor is the count of the first campaign of this kind.
#include <cstdio>
#include <cstdlib>
#include <string>

#include "tests/support/figure.hpp"
#include "tests/support/paths.hpp"

int main(int argc, char** argv) {
    namespace test = tipwright::test;
    constexpr int floor = 102;
    const int count = argc > 1 ? std::atoi(argv[1]) : 0;
    const int first = argc > 2 ? std::atoi(argv[2]) : 0;
    const int at_a_time = argc > 3 ? std::atoi(argv[3]) : 1;
    const std::string command =
        "python3 '" + test::source_dir() + "/tests/attacks/hostile_instruments.py' '" + test::binary_dir() +
        "/tipwright' '" + test::source_dir() + "/templates' " + std::to_string(count) + " " +
        std::to_string(first) + " " + std::to_string(at_a_time);
    std::FILE* driver = ::popen(command.c_str(), "r");
    if (driver == nullptr) return 1;
    int judged = 0;
    int harm = -1;
    char line[4096];
    while (std::fgets(line, sizeof line, driver) != nullptr) {
        if (std::sscanf(line, "judged %d short %d", &judged, &harm) != 2) std::fputs(line, stdout);
    }
    ::pclose(driver);
    bool ok =
        test::figure("attacks_hostile_instruments", judged, "instruments", ">=", count > 0 ? count : floor);
    ok =
        test::figure("attacks_hostile_instruments_harm", harm < 0 ? 1e9 : harm, "instruments", "<=", 0) && ok;
    return ok ? 0 : 1;
}
