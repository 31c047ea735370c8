// Ten years after: what every released version wrote (fixtures/ages) is read, certified, verified and issued
// again by tests/ages/check.sh; and a register of a million certificates, as the program of the first schema
// left it, is brought to today's with a whole copy kept first. Set AGES_FIGURES_CERTIFICATES for a smaller
// one.
#include <algorithm>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <filesystem>

#include "report/register/register.hpp"
#include "tests/report/scratch_folder.hpp"
#include "tests/support/figure.hpp"
#include "tests/support/large_register.hpp"
#include "tests/support/paths.hpp"

using namespace tipwright;
namespace fs = std::filesystem;

namespace {

using Clock = std::chrono::steady_clock;

double seconds_since(Clock::time_point begin) {
    return std::chrono::duration<double>(Clock::now() - begin).count();
}

// What an old version left and this one does not read as it must.
bool ages_read() {
    const fs::path ages = fs::path(test::source_dir()) / "fixtures/ages";
    int versions = 0;
    int asked = 0;
    int good = 0;
    for (const auto& age : fs::directory_iterator(ages)) {
        ++versions;
        const std::string command = "bash '" + test::source_dir() + "/tests/ages/check.sh' '" +
                                    test::binary_dir() + "/tipwright' '" + age.path().string() + "'";
        std::FILE* checks = ::popen(command.c_str(), "r");
        if (checks == nullptr) return false;
        char line[4096];
        int these_good = 0;
        int these = -1;
        while (std::fgets(line, sizeof line, checks) != nullptr)
            if (std::sscanf(line, "%d of %d", &these_good, &these) != 2 &&
                std::string_view(line).starts_with("failed"))
                std::fputs(line, stdout);
        ::pclose(checks);
        if (these <= 0) return false;
        asked += these;
        good += these_good;
    }
    const bool some = test::figure("ages_versions", versions, "versions", ">=", 1);
    return test::figure("ages_not_read", asked - good, "checks", "<=", 0) && some && asked > 0;
}

bool migrated(long certificates) {
    const test::ScratchFolder folder;
    const std::string location = folder / "million";
    test::make_large_register(location, certificates, 1);
    const std::string file = location + "/register.sqlite";
    const auto before = fs::file_size(file);
    // The same bytes written to the same disk and forced there: what no copy goes below.
    auto begin = Clock::now();
    const std::string plain = "cp '" + file + "' '" + file + ".plain' && sync '" + file + ".plain'";
    if (std::system(plain.c_str()) != 0) return false;
    std::printf("reference ages_plain_copy_s %.2f s, %.0f MB\n", seconds_since(begin),
                static_cast<double>(before) / 1e6);
    fs::remove(file + ".plain");
    begin = Clock::now();
    {
        const auto reg = report::Register::open(location, "2037-01-02T00:00:00Z");
        if (!reg) {
            std::printf("%s\n", reg.fault().line().c_str());
            return false;
        }
    }
    const bool fast = test::figure("ages_million_migrated_s", seconds_since(begin), "s", "<=", 60);
    std::uintmax_t kept = 0;
    for (const auto& entry : fs::directory_iterator(location))
        if (entry.path().filename().string().starts_with("register.sqlite.before-"))
            kept = std::max<std::uintmax_t>(kept, entry.file_size());
    // VACUUM packs pages; nothing of the rows goes.
    return test::figure("ages_copy_kept_share", static_cast<double>(kept) / static_cast<double>(before),
                        "of the register", ">=", 0.7) &&
           fast;
}

}  // namespace

int main(int argc, char** argv) {
    if (argc > 1) return migrated(std::max(1000L, std::atol(argv[1]))) ? 0 : 1;
    const bool read = ages_read();
    return migrated(1000000) && read ? 0 : 1;
}
