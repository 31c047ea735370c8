// The same answer on every machine: runs on the virtual bench, each calibrated, evaluated and verified again
// as if on processors with fewer features (the C library's tunables mask them), by the programs of two
// compilers. And what that costs against a program that leaves the elementary functions to the C library.
// Arguments: number of runs (200), compilers beside g++ ("clang" or "none").
// The two other programs are built in trees of their own, build/portable_clang and build/portable_libm.
#include <algorithm>
#include <array>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <string>
#include <vector>

#include "tests/support/figure.hpp"
#include "tests/support/paths.hpp"

namespace {

namespace fs = std::filesystem;
using tipwright::test::figure;

constexpr std::array kinds = {"bucket-150", "bucket-200-twin", "siphon-200", "magnet-spoon-160", "spoon-100"};
constexpr std::array plans = {"three-point-check", "five-point-as-found"};
// Each changes the results of the C library's own exp, log, pow or sin, or takes all wide code from it.
constexpr std::array masks = {"-FMA", "-AVX2", "-FMA,-AVX2", "-FMA,-AVX2,-AVX",
                              "-FMA,-AVX2,-AVX,-AVX512F,-AVX512VL,-ERMS"};

bool runs(const std::string& command) {
    return std::system((command + " >/dev/null 2>&1").c_str()) == 0;
}

std::string masked(const char* mask) {
    return std::string("GLIBC_TUNABLES=glibc.cpu.hwcaps=") + mask + " ";
}

std::string calibrate(const std::string& program, int run, const fs::path& out) {
    return program + " calibrate --bench virtual-bench --gauge demo-" +
           kinds[static_cast<std::size_t>(run) % kinds.size()] + " --plan " +
           plans[static_cast<std::size_t>(run) / kinds.size() % plans.size()] + " --seed " +
           std::to_string(run + 1) + " --out " + out.string();
}

bool same_files(const fs::path& a, const fs::path& b, std::initializer_list<const char*> names) {
    return std::all_of(names.begin(), names.end(), [&](const char* name) {
        return runs("cmp " + (a / name).string() + " " + (b / name).string());
    });
}

// The program of another tree; empty when it cannot be built.
std::string built(const std::string& tree, const std::string& environment, const std::string& options) {
    const std::string& source = tipwright::test::source_dir();
    const std::string folder = source + "/build/" + tree;
    const bool done = runs(environment + "cmake -S " + source + " -B " + folder +
                           " -G Ninja -DCMAKE_BUILD_TYPE=Release -DTIPWRIGHT_TESTS=OFF " + options) &&
                      runs("cmake --build " + folder + " --target tipwright");
    return done ? folder + "/tipwright" : "";
}

double seconds_of(const std::string& command) {
    const auto start = std::chrono::steady_clock::now();
    const bool done = runs(command);
    return done ? std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count() : 1e9;
}

}  // namespace

int main(int argc, char** argv) {
    const int count = argc > 1 ? std::atoi(argv[1]) : 200;
    const bool with_clang = argc <= 2 || std::string(argv[2]) != "none";
    const fs::path scratch = tipwright::test::scratch_dir();
    const std::string own = tipwright::test::binary_dir() + "/tipwright";
    std::vector<std::string> programs = {own};
    if (with_clang) {
        programs.push_back(built("portable_clang", "CC=clang CXX=clang++ ", ""));
        if (programs.back().empty()) {
            std::puts("the program does not build with clang++");
            return 1;
        }
    }
    int wrong = 0;
    for (int run = 0; run < count; ++run) {
        const fs::path plain = scratch / "plain";
        const fs::path again = scratch / "again";
        if (!runs(calibrate(own, run, plain))) std::printf("run %d does not end well\n", run), ++wrong;
        for (const std::string& program : programs) {
            for (const char* mask : masks) {
                const bool good =
                    runs(masked(mask) + calibrate(program, run, again)) &&
                    same_files(plain, again,
                               {"journal.twj", "record.json", "results.csv", "correction.csv"}) &&
                    runs(masked(mask) + program + " verify " + (plain / "journal.twj").string() + " " +
                         (plain / "record.json").string() + " " + (plain / "certificate.pdf").string());
                if (!good) {
                    std::printf("run %d differs under %s: %s\n", run, mask, program.c_str());
                    ++wrong;
                }
                fs::remove_all(again);
            }
        }
        fs::remove_all(plain);
    }
    bool ok =
        figure("portable_results_wrong", wrong, ("of_" + std::to_string(count) + "_runs").c_str(), "<=", 0);

    const std::string libm = built("portable_libm", "", "-DTIPWRIGHT_C_LIBRARY_MATH=ON");
    double own_s = 1e9;
    double libm_s = 1e9;
    constexpr int repeats = 15;
    for (int i = 0; i < repeats && !libm.empty();
         ++i) {  // alternating, the least of each: other load drops out
        own_s = std::min(own_s, seconds_of(calibrate(own, 5, scratch / "own")));
        libm_s = std::min(libm_s, seconds_of(calibrate(libm, 5, scratch / "libm")));
        fs::remove_all(scratch / "own");
        fs::remove_all(scratch / "libm");
    }
    std::printf("a five-point run: %.1f ms with own functions, %.1f ms with the C library's\n", 1e3 * own_s,
                1e3 * libm_s);
    ok =
        figure("portable_calls_slower", libm.empty() ? 1e9 : 100 * (own_s / libm_s - 1), "%", "<=", 10) && ok;
    return ok ? 0 : 1;
}
