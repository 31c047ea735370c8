// Learning a profile: with made-up balances (invented), a person who does what is asked, and the cases in
// which nothing can be learned.
#include <catch2/catch.hpp>

#include "bench/instruments/learn/line_tokens.hpp"
#include "tests/support/learned.hpp"
#include "tests/support/learning.hpp"
#include "tests/support/paths.hpp"
#include "tests/support/shipped_devices.hpp"

using namespace tipwright;
using namespace tipwright::test;

TEST_CASE("learn: each made-up balance ends with a profile that reads it, printing or asked") {
    const auto balances = made_up_balances();
    for (std::size_t i = 0; i < balances.size(); i += 3) {
        const bool asked = i % 2 == 1;
        CAPTURE(balances[i].name, asked);
        Helper helper;
        const auto learned = learned_of(balances[i], asked ? "Q" : "", 11 + i, helper);
        REQUIRE(learned.ok());
        CHECK(learned->as.empty());
        CHECK(learned->understood == learned->lines);
        CHECK(read_wrongly(balances[i], learned->toml, learned->doubts, 11) == "");
        CHECK((learned->toml.find("send = \"Q\"") != std::string::npos) == asked);
    }
}

TEST_CASE("learn: where gross and net both rise by the mass, the person says which it is") {
    MadeUpBalance both;
    both.name = "gross and net";
    both.prefix = 5;  // the gross mass, 100 g above
    Helper helper;
    helper.answers = {{"More than one number", "2"}};
    const auto learned = learned_of(both, "", 5, helper);
    REQUIRE(learned.ok());
    CHECK(read_wrongly(both, learned->toml, learned->doubts, 5) == "");
}

TEST_CASE("learn: what cannot be learned is said, and nothing comes of it") {
    const auto code_of = [](const auto& result) { return result ? FaultCode::usage : result.fault().code; };
    const MadeUpBalance balance = made_up_balances()[0];
    SECTION("nobody answers") {
        Helper helper;
        helper.leaves = true;
        CHECK(code_of(learned_of(balance, "", 1, helper)) == FaultCode::interrupted);
    }
    SECTION("another mass was laid on than was said") {
        Helper helper;
        helper.mass = "200";
        CHECK(code_of(learned_of(balance, "", 1, helper)) == FaultCode::garbled_answer);
    }
    SECTION("no mass at all") {
        for (const char* word : {"nan", "-5", "0", "half a kilo", ""}) {
            Helper helper;
            helper.mass = word;
            CHECK(code_of(learned_of(balance, "", 1, helper)) == FaultCode::bad_value);
        }
    }
    SECTION("bytes of a wrong line speed") {
        MadeUpBalance noise = balance;
        noise.ending = "\x93\xff\r";
        Helper helper;
        CHECK(code_of(learned_of(noise, "", 1, helper)) == FaultCode::garbled_answer);
    }
    SECTION("overload is left out: a question stays") {
        Helper helper;
        helper.answers = {{"4 of 4", "n"}};
        const auto learned = learned_of(balance, "", 1, helper);
        REQUIRE(learned.ok());
        CHECK(learned->doubts.size() == 1);
        CHECK(learned->toml.find("# ASK: ") != std::string::npos);
    }
}

TEST_CASE("learn: each shipped profile is known by what its own instrument says, beside all the others") {
    for (const auto& profile : shipped_profiles()) {
        CAPTURE(name_of(profile));
        CHECK(taken_wrongly(profile) == "");
    }
}

TEST_CASE("learn: a comma between digits is the decimal sign where no point is") {
    CHECK(bench::decimal_sign_of({"S   12,34 g", "S    0,01 g"}) == ',');
    CHECK(bench::decimal_sign_of({"S   12.34 g"}) == '.');
    // A balance that prints both parts its fields by commas.
    CHECK(bench::decimal_sign_of({"12.34,g,1", "13,5.2"}) == '.');
    CHECK(bench::decimal_sign_of({"S, 12 g,", ",5"}) == '.');
}

TEST_CASE("learn: a checksum is a last word of two to eight hexadecimal digits that is new in each line") {
    CHECK(bench::ends_in_checksum({"S 12.34 g 1A2B", "S 12.35 g 90FF", "S 12.36 g 0C41"}));
    CHECK(bench::ends_in_checksum({"S 12.34 1234567A", "S 12.35 0234567B", "S 12.36 9934567C"}));
    CHECK_FALSE(bench::ends_in_checksum({"S 12.34 12345678A", "S 12.35 02345678B", "S 12.36 99345678C"}));
    CHECK(bench::ends_in_checksum({"S 12.34 1A", "S 12.35 9F", "S 12.36 0C"}));
    CHECK_FALSE(bench::ends_in_checksum({"S 12.34 A", "S 12.35 F", "S 12.36 C"}));
    // Of different lengths; always the same; digits alone, as a number has them; nothing else in the line.
    CHECK_FALSE(bench::ends_in_checksum({"S 12.34 1A2B", "S 12.35 90F", "S 12.36 0C41"}));
    CHECK_FALSE(bench::ends_in_checksum({"S 12.34 1A2B", "S 12.35 1A2B", "S 12.36 1A2B"}));
    CHECK_FALSE(bench::ends_in_checksum({"S 12.34 1022", "S 12.35 9044", "S 12.36 0041"}));
    CHECK_FALSE(bench::ends_in_checksum({"1A2B", "90FF", "0C41"}));
}

TEST_CASE(
    "learn: a number that is not shown while the pan is empty is not the mass, for nobody knows its zero") {
    const auto came = [](bench::Situation situation, const std::string& line) {
        bench::Watched out{situation, {}};
        for (int k = 0; k < 20; ++k) out.pieces.push_back({0.2 * k, line + "\r\n"});
        return out;
    };
    const auto code_of = [&](const std::string& empty) {
        const std::vector<bench::Watched> watched = {
            came(bench::Situation::empty, empty), came(bench::Situation::known_mass, "W 500.00 g"),
            came(bench::Situation::moving, "W 500.00 g"), came(bench::Situation::overload, "over")};
        bench::LearnRequest request;
        request.title = "made up";
        request.mass_g = 500;
        const auto learned = bench::learn_balance(watched, request);
        return learned ? std::optional<FaultCode>() : learned.fault().code;
    };
    CHECK(code_of("W 0.00 g") == std::nullopt);
    CHECK(code_of("W ---- g") == FaultCode::garbled_answer);
}

TEST_CASE(
    "learn: a number that ends where it always ends is a field of that width, in which no byte is lost "
    "unseen") {
    const auto came = [](bench::Situation situation, const std::vector<std::string>& lines) {
        bench::Watched out{situation, {}};
        for (int k = 0; k < 24; ++k)
            out.pieces.push_back({0.2 * k, lines[static_cast<std::size_t>(k) % lines.size()] + "\r\n"});
        return out;
    };
    const auto draft_of = [&](const std::string& blanks) {
        const std::vector<bench::Watched> watched = {
            came(bench::Situation::empty, {"W " + blanks + "   0.00 g", "W " + blanks + "   0.01 g"}),
            came(bench::Situation::known_mass, {"W " + blanks + " 500.00 g", "W " + blanks + " 500.01 g"}),
            came(bench::Situation::moving, {"W " + blanks + "  12.34 g", "W " + blanks + " 123.45 g"}),
            came(bench::Situation::overload, {"over"})};
        bench::LearnRequest request;
        request.title = "made up";
        request.mass_g = 500;
        const auto learned = bench::learn_balance(watched, request);
        REQUIRE(learned.ok());
        return learned->toml;
    };
    CHECK(draft_of("").find("\"W {mass:7.2}") != std::string::npos);
    CHECK(draft_of("  ").find("\"W {mass:9.2}") != std::string::npos);
}
