// What `listen` shows of a profile that does not fit: what does not, and how far it fitted, is told once; the
// lines after that say so in few words.
#include "bench/program/instruments/traffic_view.hpp"

#include <catch2/catch.hpp>
#include <cstdio>
#include <string>

#include "tests/support/paths.hpp"

using namespace tipwright;
using namespace tipwright::program;

namespace {

struct Line {
    const char* asked;  // before each line
    const char* came;   // its "#" is another figure each time
};

std::string shown(const std::string& profile, const Line& line) {
    const auto loaded = bench::load_profile(profile, test::source_dir() + "/templates");
    REQUIRE(loaded);
    std::FILE* out = std::tmpfile();
    REQUIRE(out != nullptr);
    TrafficView view(bench::make_interpreter(*loaded), false, out);
    for (char figure = '1'; figure <= '9'; ++figure) {
        std::string text = line.came;
        for (char& c : text)
            if (c == '#') c = figure;
        if (*line.asked != 0) view.show({static_cast<double>(figure), bench::TrafficWay::sent, line.asked});
        view.show({figure + 0.1, bench::TrafficWay::came, text});
    }
    CHECK(view.not_understood() == 9);
    std::string all(static_cast<std::size_t>(std::ftell(out)), '\0');
    std::rewind(out);
    REQUIRE(std::fread(all.data(), 1, all.size(), out) == all.size());
    std::fclose(out);
    return all;
}

int times(const std::string& text, const std::string& words) {
    int out = 0;
    for (std::size_t at = 0; (at = text.find(words, at)) != std::string::npos; ++at) ++out;
    return out;
}

}  // namespace

TEST_CASE("what of a profile does not fit is told once, of whatever family the instrument is") {
    const std::string number = shown("generic-balance-scpi", {"READ?\n", "12.#x,1\n"});
    INFO(number);
    CHECK(times(number, "is not an NR1, NR2 or NR3 number") == 1);
    CHECK(times(number, ", as shown above") == 8);
    const std::string elements = shown("generic-balance-scpi", {"READ?\n", "+1.#34E+01\n"});
    CHECK(times(elements, "the profile's values are 2") == 1);
    const std::string checksum = shown("generic-tip-counter", {"", "H # 2000001 *000#\r\n"});
    CHECK(times(checksum, "CRC-16/MODBUS") == 1);
    CHECK(times(checksum, ", as shown above") == 8);
    const std::string letters = shown("generic-balance-print", {"", "Q   12.#4 g\r\n"});
    CHECK(times(letters, ", as shown above") == 8);
}
