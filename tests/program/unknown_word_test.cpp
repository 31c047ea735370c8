#include "bench/program/unknown_word.hpp"

#include <CLI/CLI.hpp>
#include <catch2/catch.hpp>

using namespace tipwright;
using namespace tipwright::program;

TEST_CASE("a word that is no command or option is named, where it stands") {
    CLI::App app("", "tipwright");
    app.add_flag("--json");
    double flow = 0;
    std::string folder;
    auto* keys = app.add_subcommand("keys");
    auto* make = keys->add_subcommand("make");
    make->add_option("--flow", flow);
    make->add_option("folder", folder);
    const auto line = [&](const std::vector<std::string>& words) {
        const auto fault = unknown_word(app, words);
        return fault ? fault->line() : std::string();
    };
    CHECK(line({"kes", "make"}) == "command line: there is no command \"kes\"; did you mean \"keys\"?");
    CHECK(line({"--json", "keys", "mkae"}) ==
          "command line: there is no command \"keys mkae\"; did you mean \"keys make\"?");
    CHECK(line({"keys", "make", "--flwo", "3"}).find("there is no option \"--flwo\" of keys make") !=
          std::string::npos);
    CHECK(line({"keys", "make", "--flwo=3"}).find("did you mean \"--flow\"?") != std::string::npos);
    CHECK(line({"keys", "make", "--jsno"}).find("--json") != std::string::npos);
    // Values are no commands, and what is known is not told.
    CHECK(line({"keys", "make", "--flow", "sieve", "sorry"}).empty());
    CHECK(line({"keys", "make", "--", "--flwo"}).empty());
}
