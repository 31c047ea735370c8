// A day's round: the processor time of its six commands (found, adjust, left with draft, check, issue, pack)
// in all, the time from the start of the program to its first output, and the size of the package, of the
// newest in out/package. Times are of this machine; the start is the quickest of thirty, as other work on the
// machine only adds to it.
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <chrono>
#include <cstdlib>
#include <fstream>
#include <string>
#include <vector>

#include "tests/support/figure.hpp"
#include "tests/support/paths.hpp"

namespace {

using namespace tipwright::test;
namespace fs = std::filesystem;

double children_s() {
    rusage usage{};
    ::getrusage(RUSAGE_CHILDREN, &usage);
    const auto seconds = [](const timeval& time) {
        return static_cast<double>(time.tv_sec) + 1e-6 * static_cast<double>(time.tv_usec);
    };
    return seconds(usage.ru_utime) + seconds(usage.ru_stime);
}

bool run(const std::string& arguments) {
    const std::string command = "cd " + scratch_dir().string() + " && " + binary_dir() + "/tipwright " +
                                arguments + " >said.txt 2>&1";
    if (std::system(command.c_str()) == 0) return true;
    std::printf("failed: tipwright %s\n", arguments.c_str());
    return false;
}

double first_output_s() {
    int ends[2];
    if (::pipe(ends) != 0) return 1e9;
    const auto begun = std::chrono::steady_clock::now();
    const pid_t child = ::fork();
    if (child == 0) {
        ::dup2(ends[1], STDOUT_FILENO);
        ::close(ends[0]);
        ::close(ends[1]);
        const std::string program = binary_dir() + "/tipwright";
        ::execl(program.c_str(), program.c_str(), "settings", nullptr);
        ::_exit(127);
    }
    ::close(ends[1]);
    char byte = 0;
    const bool came = ::read(ends[0], &byte, 1) == 1;
    const double passed = std::chrono::duration<double>(std::chrono::steady_clock::now() - begun).count();
    ::close(ends[0]);
    int status = 0;
    ::waitpid(child, &status, 0);
    return came ? passed : 1e9;
}

void prepare() {
    const fs::path home = scratch_dir();
    std::ofstream(home / "settings.toml")
        << "bench = \"virtual-bench\"\nplan_as_found = \"three-point-check\"\n"
           "plan_as_left = \"three-point-check\"\nwork = \"runs\"\n"
           "register = \"register\"\nkeys = \"keys\"\nperson = \"A. Signatory\"\n"
           "enter = \"true\"\n";
    std::ofstream(home / "phrase") << "four words not together\n";
    fs::permissions(home / "phrase", fs::perms::owner_read | fs::perms::owner_write);
    ::setenv("HOME", home.c_str(), 1);
    ::setenv("TIPWRIGHT_SETTINGS", (home / "settings.toml").c_str(), 1);
    ::setenv("TIPWRIGHT_TRIAL_NOW", "2026-11-28T10:00:00Z", 1);
}

}  // namespace

int main() {
    prepare();
    const std::vector<std::string> before{
        "register create", "register person add 'C. Checker' --may-check true",
        "keys make --passphrase-file phrase", "register gauge add INV-200-0002 --from demo-bucket-200-twin"};
    const std::vector<std::string> round{"calibrate INV-200-0002 --started-at 2026-11-26T08:00:00Z",
                                         "adjust INV-200-0002",
                                         "calibrate INV-200-0002 --as-left --started-at 2026-11-27T08:00:00Z",
                                         "certificate check 1 --person 'C. Checker'",
                                         "certificate issue 1 --passphrase-file phrase",
                                         "pack --serial INV-200-0002 --out station.zip"};
    bool good = true;
    for (const std::string& command : before) good = good && run(command);
    const double begun_s = children_s();
    for (const std::string& command : round) good = good && run(command);
    good = figure("day_round_of_six_commands", good ? children_s() - begun_s : 1e9, "s", "<=", 3) && good;
    double quickest_s = 1e9;
    for (int i = 0; i < 30; ++i) quickest_s = std::min(quickest_s, first_output_s());
    good = figure("day_first_output", 1000 * quickest_s, "ms", "<=", 20) && good;
    double newest_MiB = 1e9;
    auto newest = fs::file_time_type::min();
    std::error_code none;
    for (const auto& entry : fs::directory_iterator(source_dir() + "/out/package", none)) {
        if (entry.path().extension() != ".deb" || entry.last_write_time() < newest) continue;
        newest = entry.last_write_time();
        newest_MiB = static_cast<double>(entry.file_size()) / 1048576;
    }
    if (newest_MiB == 1e9) std::printf("no package in out/package: bash bench/package.sh makes one\n");
    good = figure("day_package", newest_MiB, "MiB", "<=", 6) && good;
    return good ? EXIT_SUCCESS : EXIT_FAILURE;
}
