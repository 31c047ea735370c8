// Instrument profiles against templates/instruments/profile.schema.json by an independent validator
// (python3-jsonschema): the schema and the program's reader must say the same of every profile.
#include <catch2/catch.hpp>

#include <nlohmann/json.hpp>

#include <algorithm>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <string>
#include <vector>

#include "bench/instruments/profile.hpp"
#include "tests/support/paths.hpp"

using namespace tipwright;
using namespace tipwright::bench;
namespace fs = std::filesystem;

namespace {

const fs::path instruments = fs::path(tipwright::test::source_dir()) / "templates" / "instruments";
const fs::path folder = tipwright::test::scratch_dir() / "tests" / "profile_schema";

std::string quoted(const fs::path& path) {
    return " '" + path.string() + "'";
}

std::string read_text(const fs::path& path) {
    std::ostringstream text;
    text << std::ifstream(path, std::ios::binary).rdbuf();
    return text.str();
}

// One verdict of the schema for each profile, and with `--changes` for each of its changes.
nlohmann::json verdicts(const std::string& option, const std::string& stem,
                        const std::vector<fs::path>& profiles) {
    fs::create_directories(folder);
    const fs::path out = folder / (stem + ".json");
    fs::remove(out);
    std::string command =
        "python3" + quoted(fs::path(tipwright::test::source_dir()) / "tests/bench/profile_verdicts.py") +
        option + quoted(instruments / "profile.schema.json") + quoted(out);
    for (const fs::path& profile : profiles) command += quoted(profile);
    REQUIRE(std::system(command.c_str()) == 0);
    return nlohmann::json::parse(read_text(out));
}

std::vector<fs::path> shipped() {
    std::vector<fs::path> profiles;
    for (const auto& entry : fs::directory_iterator(instruments))
        if (entry.path().extension() == ".toml") profiles.push_back(entry.path());
    std::sort(profiles.begin(), profiles.end());
    return profiles;
}

std::string fault_of(const std::string& toml) {
    const auto profile = parse_profile({"p.toml", toml});
    return profile ? "" : profile.fault().what;
}

}  // namespace

TEST_CASE("every shipped profile is valid against the schema") {
    const std::vector<fs::path> profiles = shipped();
    REQUIRE(profiles.size() >= 15);
    const nlohmann::json all = verdicts("", "shipped", profiles);
    REQUIRE(all.size() == profiles.size());
    for (const auto& verdict : all) {
        INFO(verdict.at("profile").get<std::string>() << ": " << verdict.at("error").get<std::string>());
        CHECK(verdict.at("valid").get<bool>());
    }
}

TEST_CASE("schema and reader refuse the same spoilt profiles") {
    struct Spoilt {
        const char* stem;
        const char* from;
        const char* to;
    };
    const Spoilt cases[] = {
        {"generic-balance-print", "title =", "colour = \"red\"\ntitle ="},           // unknown field
        {"generic-balance-print", "baud = 9600", "baud = \"9600\""},                 // wrong type
        {"generic-balance-print", "baud = 9600", "baud = 299"},                      // out of range
        {"generic-balance-print", "role = \"balance\"\n", ""},                       // missing
        {"generic-balance-print", "{mass:7} {unit}", "{mass:7}"},                    // mass without unit
        {"generic-pump-ascii", "[command.stop]", "[command.halt]"},                  // a pump must stop
        {"generic-pump-ascii", "FLOW {flow_mL_min:.3}", "FLOW"},                     // sends no flow
        {"generic-pump-ascii-timeout", "own_timeout_s = 2", "own_timeout_s = 0.4"},  // out of range
        {"generic-pump-ascii-timeout", "own_timeout_s = 2", ""},                     // arms what is not given
        {"generic-pump-modbus", "unit = 1 ", "unit = 248 "},                         // out of range
        {"generic-pump-modbus", "value = 1 ", "value = 65536 "},                     // does not fit its type
        {"generic-pump-modbus", "\"write-many\"", "\"write-one\""},                  // two registers
        {"generic-climate-modbus", "\"air_temperature_C\"", "\"water_temperature_C\""},  // twice
        {"generic-balance-scpi", "\"status\"", "\"mass_kg\""},                           // two masses
        {"generic-pump-scpi", "stop = ", "tare = "},                                     // not of this role
        {"generic-tip-counter", "role = \"counter\"", "role = \"pump\""},                // not of this family
        {"generic-tip-counter", "silence_s = 5", "silence_s = 1"},                       // out of range
        {"generic-modem-contacts", "\"CTS\"", "\"DTR\""},                                // no input
    };
    fs::create_directories(folder);
    std::vector<fs::path> files;
    for (const Spoilt& spoilt : cases) {
        INFO(spoilt.stem << ": " << spoilt.from << " -> " << spoilt.to);
        std::string text = read_text(instruments / (std::string(spoilt.stem) + ".toml"));
        const std::size_t place = text.find(spoilt.from);
        REQUIRE(place != std::string::npos);
        text.replace(place, std::string(spoilt.from).size(), spoilt.to);
        CHECK(fault_of(text) != "");
        files.push_back(folder / ("spoilt_" + std::to_string(files.size() + 1) + ".toml"));
        std::ofstream(files.back(), std::ios::binary) << text;
    }
    const nlohmann::json all = verdicts("", "spoilt", files);
    REQUIRE(all.size() == std::size(cases));
    for (std::size_t i = 0; i < all.size(); ++i) {
        INFO(cases[i].stem << ": " << cases[i].from << " -> " << cases[i].to);
        CHECK_FALSE(all[i].at("valid").get<bool>());
    }
}

TEST_CASE("schema and reader agree on shipped profiles changed in one place") {
    // A pump that stops by itself has all that the same pump without has: the changes of one are enough.
    std::vector<fs::path> profiles = shipped();
    std::erase_if(profiles, [](const fs::path& path) {
        return fs::exists(instruments / (path.stem().string() + "-timeout.toml"));
    });
    REQUIRE(profiles.size() >= 12);
    int accepted = 0;
    int refused = 0;
    for (const auto& verdict : verdicts(" --changes", "changed", profiles)) {
        const std::string fault = fault_of(verdict.at("toml").get<std::string>());
        const bool valid = verdict.at("valid").get<bool>();
        ++(valid ? accepted : refused);
        if (valid == fault.empty()) continue;
        INFO(verdict.at("profile").get<std::string>() << "\n" << verdict.at("change").get<std::string>());
        INFO("schema: " << verdict.at("error").get<std::string>() << "\nreader: " << fault);
        CHECK(valid == fault.empty());
    }
    CHECK(accepted > 1000);
    CHECK(refused > 1000);
}
