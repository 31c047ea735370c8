// Texts that once got past the check of depth and overflowed the TOML parser's stack, and texts that are let
// pass.
#include <catch2/catch.hpp>

#include "report/certificate/letterhead.hpp"
#include "report/certificate/words.hpp"
#include "report/files/files.hpp"
#include "report/files/toml_depth.hpp"
#include "tests/support/paths.hpp"

using namespace tipwright;
using report::check_toml_depth;

namespace {

std::string dotted(int keys) {
    std::string out = "a";
    for (int i = 1; i < keys; ++i) out += ".a";
    return out;
}

bool refused(const std::string& text) {
    const Outcome checked = check_toml_depth(text, "t.toml");
    return !checked.ok() && checked.fault().code == FaultCode::syntax &&
           checked.fault().where.starts_with("t.toml:");
}

}  // namespace

TEST_CASE("thirty thousand dotted keys are refused, whatever stands before them") {
    const std::string deep = dotted(30000) + " = 1\n";
    CHECK(refused(deep));
    CHECK(refused("[" + deep));
    CHECK(refused("\"ends in a backslash\\\\\"." + deep));
    CHECK(refused("a = 'C:\\'\n" + deep));
    CHECK(refused("a = '''\n\\'''\n" + deep));
    CHECK(refused("a = \"\"\"\n'\\\"\"\"\"\"\"\n" + deep));
    CHECK(refused("a = \"\"\"x\"\"\"\"\"\n" + deep));
    CHECK(refused("a = {" + deep));
    CHECK(refused("# \"\n" + deep));
    CHECK(refused("a = [\n" + deep));
}

TEST_CASE("lists and tables inside each other are refused when they are too many") {
    std::string text = "a = ";
    for (int i = 0; i < 40; ++i) text += i % 2 == 0 ? "[\n" : "{b.c = ";
    CHECK(refused(text));
}

TEST_CASE("dots that make no table are let pass") {
    std::string numbers = "a = [";
    for (int i = 0; i < 1000; ++i) numbers += "1.5, # one. more. ...\n";
    CHECK(check_toml_depth(numbers + "]\n", "t.toml").ok());
    CHECK(check_toml_depth("a = \"" + std::string(1000, '.') + "\"\n", "t.toml").ok());
    CHECK(check_toml_depth("a = '''\n" + std::string(1000, '.') + "\\'''\nb = \"\"\"\\\"\"\"..." +
                               std::string(1000, '.') + "\"\"\"\"\"\nc.d = 1\n",
                           "t.toml")
              .ok());
    CHECK(check_toml_depth("[" + dotted(20) + "]\n" + dotted(20) + " = 1\n", "t.toml").ok());
    CHECK(check_toml_depth("", "t.toml").ok());
    CHECK(check_toml_depth("\"\\", "t.toml").ok());
}

TEST_CASE("files of words and letterheads are checked too") {
    const std::string deep = "\"x\\\\\"." + dotted(30000) + " = 1\n";
    CHECK(report::certificate::parse_words(deep, "w.toml").fault().code == FaultCode::syntax);
    const auto file = test::scratch_dir() / "deep.toml";
    REQUIRE(write_file(file.string(), "\"x\\\\\"." + dotted(7000) + " = 1\n").ok());
    CHECK(report::load_letterhead(file).fault().code == FaultCode::syntax);
}
