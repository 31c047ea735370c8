// The house of DEVELOPERS.md, read from the sources: which room may use which, and comments that name tests.
#include <catch2/catch.hpp>

#include <filesystem>
#include <regex>
#include <set>
#include <sstream>

#include "tests/support/source_files.hpp"

using namespace tipwright;
namespace fs = std::filesystem;

namespace {

const fs::path top = test::source_dir();

std::set<std::string> included(const std::string& text) {
    static const std::regex include("#include \"([a-z_/]+\\.hpp)\"");
    std::set<std::string> out;
    for (std::sregex_iterator at(text.begin(), text.end(), include), end; at != end; ++at)
        out.insert((*at)[1]);
    return out;
}

bool within(const std::string& path, const std::string& room) {
    return path.starts_with(room + "/");
}

}  // namespace

TEST_CASE("no arrow points upwards") {
    const auto files = test::source_files();
    REQUIRE(files.size() > 300);
    for (const auto& [path, text] : files) {
        for (const std::string& other : included(text)) {
            INFO(path << " includes " << other);
            if (within(path, "calib")) CHECK(within(other, "calib"));
            if (within(path, "report")) CHECK((within(other, "report") || within(other, "calib")));
            if (within(path, "bench") && within(other, "report")) {
                const bool uses_files = within(path, "bench/descriptions") || within(path, "bench/supplied");
                CHECK((within(path, "bench/program") || within(path, "bench/page") ||
                       (uses_files && within(other, "report/files"))));
            }
            // Of calib, from the ground up.
            // An expanded uncertainty needs Student's t.
            if (within(path, "calib/base") && path != "calib/base/uncertain.cpp")
                CHECK(within(other, "calib/base"));
            if (within(path, "calib/statistics"))
                CHECK((within(other, "calib/statistics") || within(other, "calib/base")));
            for (const char* higher : {"calib/tips", "calib/rate", "calib/decision", "calib/rain",
                                       "calib/trial", "calib/laboratory"})
                if (within(path, "calib/weighing")) CHECK_FALSE(within(other, higher));
            for (const char* higher :
                 {"calib/rate", "calib/decision", "calib/rain", "calib/trial", "calib/laboratory"})
                if (within(path, "calib/tips")) CHECK_FALSE(within(other, higher));
        }
    }
}

TEST_CASE("a test that a comment names is there") {
    static const std::regex named("tests/[a-z_/]+_test\\.(cpp|py|sh)");
    auto texts = test::source_files();
    for (const auto& entry : fs::recursive_directory_iterator(top / "templates"))
        if (entry.is_regular_file() && entry.path().extension() == ".md")
            texts[entry.path().lexically_relative(top).generic_string()] = test::content_of(entry.path());
    for (const char* page : {"README.md", "DEVELOPERS.md"}) texts[page] = test::content_of(top / page);
    int seen = 0;
    for (const auto& [path, text] : texts)
        for (std::sregex_iterator at(text.begin(), text.end(), named), end; at != end; ++at) {
            ++seen;
            INFO(path << " names " << at->str());
            CHECK(fs::exists(top / at->str()));
        }
    CHECK(seen > 10);
}

TEST_CASE("no test has a name that ctest would cut in two") {
    static const std::regex named("TEST_CASE\\(\\s*((\"([^\"\\\\]|\\\\.)*\"\\s*)+)");
    int seen = 0;
    for (const auto& entry : fs::recursive_directory_iterator(top / "tests")) {
        if (entry.path().extension() != ".cpp") continue;
        const std::string text = test::content_of(entry.path());
        for (std::sregex_iterator at(text.begin(), text.end(), named), end; at != end; ++at) {
            ++seen;
            INFO(entry.path() << ": " << at->str(1));
            CHECK(at->str(1).find(';') == std::string::npos);
        }
    }
    CHECK(seen > 500);
}

TEST_CASE("what leaves a record asks for the steps of which something is stated") {
    // Papers and tables get a record without the others (as_stated); the terminal's tables of a run mark
    // them.
    const std::set<std::string> allowed{"bench/program/results/results.cpp",
                                        "bench/program/results/step_table.cpp"};
    int looked = 0;
    for (const auto& [path, text] : test::source_files()) {
        const bool asks = within(path, "bench/program") || within(path, "bench/page") ||
                          within(path, "report/comparison") || within(path, "report/register") ||
                          within(path, "report/trial") || within(path, "report/rain") ||
                          within(path, "report/laboratory") || within(path, "report/field_check");
        if (!asks || allowed.contains(path)) continue;
        ++looked;
        INFO(path << ": report::stated_steps(record) in place of evaluation.steps");
        CHECK(text.find("evaluation.steps") == std::string::npos);
    }
    CHECK(looked > 100);
}

TEST_CASE("every text that a document asks for is among the words") {
    std::set<std::string> keys;
    std::set<std::string> sections;
    std::istringstream words(test::content_of(top / "templates/certificate/en.toml"));
    std::string section;
    static const std::regex heading("\\[([a-z_]+)\\]");
    static const std::regex text("([A-Za-z0-9_]+) = .*");
    std::smatch found;
    for (std::string line; std::getline(words, line);) {
        if (std::regex_match(line, found, heading))
            sections.insert(section = found[1]);
        else if (std::regex_match(line, found, text))
            keys.insert(section + "." + std::string(found[1]));
    }
    REQUIRE(keys.size() > 500);
    // What ends with _ is the beginning of several keys; names of files are no words.
    static const std::regex literal("\"([a-z_]+)\\.([A-Za-z0-9_]*[A-Za-z0-9])\"");
    const std::set<std::string> files{"csv", "json", "pdf", "svg", "toml", "txt", "xml", "hpp"};
    int asked = 0;
    for (const auto& [path, source] : test::source_files()) {
        if (!within(path, "report")) continue;
        for (std::sregex_iterator at(source.begin(), source.end(), literal), end; at != end; ++at) {
            if (!sections.contains((*at)[1]) || files.contains((*at)[2])) continue;
            ++asked;
            INFO(path << " asks for " << at->str());
            CHECK(keys.contains(std::string((*at)[1]) + "." + std::string((*at)[2])));
        }
    }
    CHECK(asked > 400);
}
