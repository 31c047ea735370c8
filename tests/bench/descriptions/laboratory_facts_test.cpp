// What a bench's file says of its laboratory: read whole, each bad value refused in one line with its place.
#include <filesystem>
#include <fstream>

#include "calib/base/text.hpp"
#include "tests/bench/descriptions/texts.hpp"
#include "tests/report/scratch_folder.hpp"

using namespace tipwright;
using namespace tipwright::bench;
using namespace tipwright::test;

namespace {

std::string with(const std::string& lines) {
    return changed(bench_text, "[virtual]", lines + "\n[virtual]");
}

bool says(const std::string& line, const std::string& part) {
    UNSCOPED_INFO(line);
    return line.find(part) != std::string::npos;
}

}  // namespace

TEST_CASE("facts of the laboratory are read, and none is needed") {
    const auto plain = parse_bench({"bench.toml", bench_text});
    REQUIRE(plain);
    CHECK(plain->facts.procedure.empty());
    CHECK_FALSE(plain->facts.agreed_rule);
    CHECK(plain->metrology.capability.empty());
    CHECK(plain->metrology.water_allowance_kg_m3 == 0);
    CHECK_FALSE(plain->metrology.environment.air_temperature_C);

    const auto read = parse_bench({"bench.toml", with(R"([procedure]
name = "P-07"
issue = "4"
[decision]
rule = "guard band"
agreed = "order 12"
[water]
kind = "demineralised"
density_allowance_kg_m3 = 0.02
[environment]
air_temperature_min_C = 18
air_temperature_max_C = 26
[[capability]]
intensity_mm_h = 20
U_percent = 0.5
[[capability]]
intensity_mm_h = 200
U_percent = 0.4
[[signatory]]
name = "A. Signatory"
function = "head"
[[hand_instrument]]
role = "caliper"
description = "c"
certificate = "C-1"
issued_by = "Fernlow"
accreditation = "K-1")")});
    INFO((read ? "" : read.fault().line()));
    REQUIRE(read);
    CHECK(read->facts.procedure == "P-07");
    CHECK(read->facts.procedure_issue == "4");
    REQUIRE(read->facts.agreed_rule);
    CHECK(read->facts.agreed_rule->rule == calib::DecisionRule::guard_band);
    CHECK(read->facts.agreed_rule->agreed == "order 12");
    CHECK(read->facts.water == "demineralised");
    CHECK(read->metrology.water_allowance_kg_m3 == 0.02);
    REQUIRE(read->metrology.environment.air_temperature_C);
    CHECK(read->metrology.environment.air_temperature_C->high == 26);
    CHECK_FALSE(read->metrology.environment.air_pressure_hPa);
    REQUIRE(read->metrology.capability.size() == 2);
    CHECK(read->metrology.capability[1].U_percent == 0.4);
    CHECK(read->facts.function_of("A. Signatory") == "head");
    CHECK(read->facts.function_of("Somebody").empty());
    CHECK(read->hand_instruments[0].issued_by == "Fernlow");
    CHECK(read->hand_instruments[0].accreditation == "K-1");
}

TEST_CASE("bad facts are refused in one line with their place") {
    const auto line = [](const std::string& lines) { return bench_line(with(lines)); };
    CHECK(says(line("[procedure]\nname = \"P\""), "bench.toml:51:1: procedure.issue is not given"));
    CHECK(
        says(line("[procedure]\nname = \"P\"\nissue = \"\""), "procedure.issue is \"\", must not be empty"));
    CHECK(says(line("[decision]\nrule = \"by feeling\"\nagreed = \"x\""),
               "bench.toml:52:8: decision.rule is \"by feeling\", must be one of"));
    CHECK(says(line("[decision]\nrule = \"guard band\""), "decision.agreed is not given"));
    CHECK(says(line("[water]\nkind = \"sea\"\ndensity_allowance_kg_m3 = 25"),
               "bench.toml:53:27: water.density_allowance_kg_m3 is 25, must be 0 to 5 kg/m3"));
    CHECK(says(line("[water]\nkind = \"x\"\ndensity_allowance_kg_m3 = nan"), "must be 0 to 5"));
    CHECK(says(line("[environment]\nair_temperature_min_C = 18"), "air_temperature_max_C is not given"));
    CHECK(says(line("[environment]\nair_temperature_min_C = 26\nair_temperature_max_C = 18"),
               "air_temperature_max_C is 18, below air_temperature_min_C of 26"));
    CHECK(says(line("[environment]\nair_temprature_min_C = 26"), "did you mean air_temperature_min_C?"));
    CHECK(says(line("[[capability]]\nintensity_mm_h = 20\nU_percent = 0"),
               "bench.toml:53:13: capability.U_percent is 0, must be 0.001 to 50 %"));
    CHECK(says(line("[[capability]]\nintensity_mm_h = 20\nU_percent = 1\n[[capability]]\nintensity_mm_h = "
                    "20\nU_percent = 1"),
               "intensity_mm_h is 20, after 20"));
    CHECK(says(line("[[capability]]\nintensity_mm_h = 20"), "capability.U_percent is not given"));
    CHECK(says(line("[[signatory]]\nname = \"A\"\nfunction = \"b\"\n[[signatory]]\nname = \"A\"\nfunction = "
                    "\"c\""),
               "\"A\" is given twice"));
    CHECK(says(bench_line(changed(bench_text, "calibrated_on = 2026-02-10",
                                  "issued_by = \"L\"\ncalibrated_on = 2026-02-10")),
               "issued_by is given, but no certificate"));
    CHECK(says(bench_line(changed(bench_text, "calibrated_on = 2026-02-10",
                                  "accreditation = \"L\"\ncalibrated_on = 2026-02-10")),
               "accreditation is given, but not whose"));
}

TEST_CASE("a bench may name the file of its capability, which its text then carries") {
    const tipwright::test::ScratchFolder folder;
    const auto write = [&](const std::string& name, const std::string& text) {
        std::ofstream(folder / name, std::ios::binary) << text;
    };
    write("bench.toml", "capability = \"cmc.toml\"\n" + bench_text);
    const auto load = [&] { return load_bench(folder / "bench.toml", templates); };
    CHECK(says(load().fault().line(), "capability names \"cmc.toml\""));
    write("cmc.toml", "[[capability]]\nintensity_mm_h = 20\nU_percent = 0.5\n");
    const auto read = load();
    INFO((read ? "" : read.fault().line()));
    REQUIRE(read);
    REQUIRE(read->metrology.capability.size() == 1);
    // A journal carries the text, and is read without the file.
    const auto again = parse_bench({"journal", read->text.text});
    REQUIRE(again);
    CHECK(again->metrology.capability.size() == 1);
    write("cmc.toml", "[[capability]]\nintensity_mm_h = 20\nU_percent = -1\n");
    CHECK(says(load().fault().line(), "cmc.toml:3:13: capability.U_percent is -1"));
    write("cmc.toml", "# nothing\n");
    CHECK(says(load().fault().line(), "no [[capability]] is given"));
}

TEST_CASE("a plan that judges by another rule than the one agreed is refused before water flows") {
    const auto gauge = parse_gauge({"my.toml", gauge_text}, {"twin.toml", kind_text});
    REQUIRE(gauge);
    const auto plan = parse_plan({"plan.toml", plan_text});  // judges by guard band
    REQUIRE(plan);
    const auto together = [&](const std::string& rule) {
        const auto bench =
            parse_bench({"bench.toml", with("[decision]\nrule = \"" + rule + "\"\nagreed = \"order 12\"")});
        REQUIRE(bench);
        const auto fits = check_together(*gauge, *plan, *bench);
        return fits ? std::string("accepted") : fits.fault().line();
    };
    CHECK(together("guard band") == "accepted");
    CHECK(says(together("simple acceptance"), "another decision rule than the one agreed with the customer"));
}
