#include "bench/supplied/supplied.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <string>
#include "tests/support/paths.hpp"

using namespace tipwright;
using namespace tipwright::bench;

namespace {

const std::string per_step = R"(# source = log
# gauge.model = M
# gauge.serial = 1
# gauge.nominal_tip_mm = 0.2
# gauge.catch_diameter_mm = 200
# gauge.catch_diameter_u_mm = 0.1
# gauge.compartments = 2
# balance.resolution_g = 0.01
# timing.u_s = 0.05
# water_temperature_C = 20.5
step,set_intensity_mm_h,tips,duration_s,mass_g
1,20,20,719.31,125.29
2,100,60,445.74,386.59
)";

const std::string per_tip = R"(# source = log
# gauge.model = M
# gauge.serial = 1
# gauge.nominal_tip_mm = 0.2
# gauge.catch_diameter_mm = 150
# gauge.catch_diameter_u_mm = 0.1
# gauge.compartments = 2
# balance.resolution_g = 0.01
# balance.weighs = vessel
tip,compartment,before_g,after_g
1,A,10.00,13.55
1,B,13.55,17.00
2,A,17.00,20.57
2,B,20.57,24.04
)";

std::string changed(std::string text, const std::string& from, const std::string& to) {
    const auto at = text.find(from);
    REQUIRE(at != std::string::npos);
    return text.replace(at, from.size(), to);
}

std::string line_of(const std::string& text) {
    const auto read = parse_supplied({"t.csv", text});
    return read ? "accepted" : read.fault().line();
}

bool assumed(const SuppliedMeasurements& read, const std::string& words) {
    for (const std::string& assumption : read.assumptions)
        if (assumption.find(words) != std::string::npos) return true;
    return false;
}

}  // namespace

TEST_CASE("a table per step becomes observations") {
    const auto read = parse_supplied({"t.csv", per_step});
    REQUIRE(read);
    CHECK(read->form == SuppliedForm::per_step);
    CHECK(read->gauge.model == "M");
    CHECK(read->gauge.gauge.catch_diameter_mm.u == 0.1);
    CHECK(read->source == "log");
    REQUIRE(read->observations.size() == 2);
    const calib::StepObservation& step = read->observations[1];
    CHECK(step.step == 2);
    CHECK(step.set_intensity_mm_h == 100);
    CHECK(step.tips == 60);
    REQUIRE(step.duration_s);
    CHECK(*step.duration_s == 445.74);
    CHECK(step.balance_difference_g == 386.59);
    CHECK_FALSE(step.is_volume);
    CHECK(step.conditions.water_temperature_C == 20.5);
    CHECK(step.weighing == calib::WeighingMethod::supplied);
    CHECK(step.ended == calib::CollectEnd::supplied);
    CHECK(read->metrology.edge_time_u_s * std::sqrt(2.0) == Approx(0.05));
    CHECK(read->plan.steps.size() == 2);
    CHECK(read->plan.limits.rows.empty());
}

TEST_CASE("what a table does not state is assumed cautiously and said so") {
    const auto read = parse_supplied({"t.csv", changed(per_step, "# water_temperature_C = 20.5\n", "")});
    REQUIRE(read);
    CHECK(assumed(*read, "balance.repeatability_g was not stated: taken as one display step, 0.01 g"));
    CHECK(
        assumed(*read, "balance.linearity_half_width_g was not stated: taken as two display steps, 0.02 g"));
    CHECK(assumed(*read, "water_temperature_C was not stated: 20 °C with u = 3 K assumed"));
    CHECK(assumed(*read, "evaporation_g_h was not stated: no correction, u = 0.2 g/h assumed"));
    // What stands among the conditions of a report is named too, however little it matters.
    CHECK(assumed(*read, "air_temperature_C was not stated: that of the water assumed"));
    CHECK(assumed(*read, "air_pressure_hPa was not stated: 1000 hPa assumed"));
    CHECK(assumed(*read, "relative_humidity_percent was not stated: 50 % assumed"));
    CHECK(assumed(*read, "scatter of single tips was not stated"));
    CHECK(read->metrology.water_temperature_u_C == 3);
    CHECK(read->metrology.evaporation_g_h.u == 0.2);
    const auto stated = parse_supplied({"t.csv", changed(per_step, "# source = log",
                                                         "# source = log\n# evaporation_g_h = 0.3\n"
                                                         "# air_pressure_hPa = 990\n"
                                                         "# balance.linearity_half_width_g = 0.005")});
    REQUIRE(stated);
    CHECK_FALSE(assumed(*stated, "evaporation"));
    CHECK_FALSE(assumed(*stated, "air_pressure"));
    CHECK(stated->metrology.evaporation_g_h.value == 0.3);
    CHECK(stated->metrology.balance.linearity_half_width_g == 0.005);
}

TEST_CASE("a table per step may give flow, volume, balance readings, contacts, conditions and remarks") {
    std::string text = changed(per_step, "set_intensity_mm_h", "set_flow_mL_min");
    text = changed(changed(text, "1,20,20", "1,10.47,20"), "2,100,60", "2,52.36,60");
    const auto fits = parse_supplied({"t.csv", text});
    REQUIRE(fits);
    CHECK(fits->observations[0].set_intensity_mm_h == Approx(20).epsilon(1e-3));

    text = changed(changed(per_step, "mass_g", "volume_mL"), "# balance.resolution_g = 0.01",
                   "# measure.u_mL = 0.2");
    text = changed(text, "# water_temperature_C = 20.5\n", "");
    const auto volume = parse_supplied({"t.csv", text});
    REQUIRE(volume);
    CHECK(volume->observations[0].is_volume);
    // One number for the measure: nine tenths of its variance are its own error, alike at every step.
    const calib::BalanceMetrology& measure = volume->metrology.balance;
    CHECK(measure.linearity_half_width_g / std::sqrt(3.0) == Approx(0.2 * std::sqrt(0.9)));
    CHECK(std::hypot(measure.repeatability_g, measure.linearity_half_width_g / std::sqrt(3.0)) ==
          Approx(0.2));

    text =
        changed(per_step, "mass_g\n1,20,20,719.31,125.29\n2,100,60,445.74,386.59",
                "before_g,after_g,contact_1_tips,contact_2_tips,water_temperature_C,tip_sd_percent,remark\n"
                "1,20,20,719.31,500.00,625.29,20,19,21.5,0.5,\"one, missed\"");
    text = changed(text, "# source", "# balance.weighs = vessel\n# source");
    const auto rich = parse_supplied({"t.csv", text});
    REQUIRE(rich);
    const calib::StepObservation& step = rich->observations[0];
    CHECK(step.balance_difference_g == Approx(125.29));
    CHECK(step.contact_counts == std::vector<int>{20, 19});
    CHECK(step.conditions.water_temperature_C == 21.5);
    CHECK(step.scatter.sd_percent == 0.5);
    CHECK(step.scatter.dof == 18);
    CHECK(step.remarks == std::vector<std::string>{"one, missed"});
}

TEST_CASE("a table per tip gives means, scatter and difference of the compartments") {
    const auto read = parse_supplied({"t.csv", per_tip});
    REQUIRE(read);
    CHECK(read->form == SuppliedForm::per_tip);
    REQUIRE(read->tips.size() == 1);
    // By hand: A 3.55, 3.57; B 3.45, 3.47. Pooled variance 0.0002, dof 2.
    const TipSummary& tips = read->tips[0];
    REQUIRE(tips.a);
    CHECK(tips.a->mean == Approx(3.56));
    CHECK(tips.b->mean == Approx(3.46));
    CHECK(tips.a->sd == Approx(0.0141421356).epsilon(1e-6));
    CHECK(tips.a->u() == Approx(0.01).epsilon(1e-6));
    CHECK(tips.mean == Approx(3.51));
    CHECK(tips.difference_percent.value == Approx(100 * 0.1 / 3.51).epsilon(1e-9));
    // Each mean has u 0.01; the difference of both 0.0141 of 3.51.
    CHECK(tips.difference_percent.u == Approx(100 * 0.0141421356 / 3.51).epsilon(1e-3));
    CHECK(tips.difference_percent.dof == 2);
    const calib::StepObservation& step = read->observations[0];
    CHECK(step.tips == 4);
    CHECK_FALSE(step.duration_s);
    CHECK(step.balance_difference_g == Approx(14.04));
    CHECK(step.scatter.sd_percent == Approx(100 * 0.0141421356 / 3.51).epsilon(1e-6));
    CHECK(step.scatter.dof == 2);
    REQUIRE(step.compartments);
    CHECK(step.compartments->a_excess_percent == Approx(50 * 0.1 / 3.51).epsilon(1e-9));
    // Each reading after a tip is the one before the next: only the first and the last are left in the sum.
    CHECK(read->metrology.balance.linearity_half_width_g == Approx(0.02));
    CHECK(step.amount_by == calib::AmountBy::chained);
    CHECK(assumed(*read, "linearity counts once for a step"));
    // Tared before each tip: the same stretch of the scale every time.
    std::string tared = per_tip.substr(0, per_tip.find("1,A,"));
    tared += "1,A,0.00,3.55\n1,B,0.00,3.45\n2,A,0.00,3.57\n2,B,0.00,3.47\n";
    const auto alone = parse_supplied({"t.csv", tared});
    REQUIRE(alone);
    CHECK(alone->observations[0].amount_by == calib::AmountBy::each_tip);
    CHECK(assumed(*alone, "each tip was weighed by itself"));
}

TEST_CASE("unequal numbers of tips do not shift the mean of the gauge") {
    const auto read = parse_supplied({"t.csv", per_tip + "3,A,24.04,27.60\n"});
    REQUIRE(read);
    CHECK(read->tips[0].all.mean == Approx((3.55 + 3.57 + 3.56 + 3.45 + 3.47) / 5));
    CHECK(read->tips[0].mean == Approx((3.56 + 3.46) / 2));
    CHECK(read->observations[0].balance_difference_g == Approx(5 * 3.51));
    REQUIRE_FALSE(read->observations[0].remarks.empty());
    CHECK(read->observations[0].remarks[0] == "3 tips of A and 2 of B: each compartment counts half");
}

TEST_CASE("tips with times make a collect from the first tip to the last") {
    std::string text = changed(per_tip, "after_g\n", "after_g,time_s\n");
    double time = 100;
    for (std::size_t at = text.find("time_s\n") + 7; at < text.size();) {
        const auto end = text.find('\n', at);
        const std::string actor = "," + std::to_string(time);
        text.insert(end, actor);
        at = end + actor.size() + 1;
        time += 30;
    }
    text = changed(text, "# source", "# timing.u_s = 0.1\n# source");
    const auto read = parse_supplied({"t.csv", text});
    REQUIRE(read);
    const calib::StepObservation& step = read->observations[0];
    CHECK(step.tips == 2);  // 1 opens, then B and A; the last is left out to keep an even number
    REQUIRE(step.duration_s);
    CHECK(*step.duration_s == Approx(60));
    CHECK(step.balance_difference_g == Approx(3.45 + 3.57));
    CHECK(step.remarks.size() == 2);
}

TEST_CASE("a spoon has no compartments") {
    std::string text = changed(per_tip, "compartments = 2", "compartments = 1");
    CHECK(line_of(text) ==
          "t.csv:10:1: a column compartment is there, but gauge.compartments is 1; remove one of them");
    text = changed(text, "tip,compartment,", "tip,");
    text = changed(changed(text, "1,A,", "1,"), "1,B,", "2,");
    text = changed(changed(text, "2,A,", "3,"), "2,B,", "4,");
    const auto read = parse_supplied({"t.csv", text});
    REQUIRE(read);
    CHECK_FALSE(read->tips[0].a);
    CHECK(read->observations[0].scatter.dof == 3);
}

TEST_CASE("numbers in a table that cannot be true are refused with their column") {
    CHECK(line_of(changed(per_step, "719.31,125.29", "719.31,-125.29")) ==
          "t.csv:12:16: mass_g is -125.29, must be 0.000001 to 1000000 g");
    CHECK(line_of(changed(per_step, "719.31,125.29", "719.31,nan")) ==
          "t.csv:12:16: mass_g is \"nan\", must be a finite number; leave the row out");
    CHECK(line_of(changed(per_step, "719.31,125.29", "719.31,\"125,29\"")) ==
          "t.csv:12:16: mass_g is \"125,29\", a decimal comma; write a decimal point: 125.29");
    CHECK(line_of(changed(per_step, "719.31,125.29", "719,31,125.29")) ==
          "t.csv:12:1: the row has 6 fields, the header 5; a decimal comma splits a number in two: write a "
          "decimal "
          "point");
    // The field pushed out may be an empty last one.
    const std::string with_remark =
        changed(changed(per_step, "mass_g\n", "mass_g,remark\n"), "386.59\n", "386.59,\n");
    CHECK(line_of(changed(with_remark, "719.31,125.29", "719,31,125.29,")) ==
          "t.csv:12:1: the row has 7 fields, the header 6; a decimal comma splits a number in two: write a "
          "decimal point");
    CHECK(line_of(changed(per_step, "719.31,125.29", "719.31")) ==
          "t.csv:12:1: the row has 4 fields, the header 5; leave a cell empty between its separators");
    CHECK(line_of(changed(per_step, "719.31,125.29", "719.31,")) ==
          "t.csv:12:16: mass_g is empty; write the number, or leave the row out");
    CHECK(
        line_of(changed(per_step, "719.31,125.29", "719.31,125.29 g")) ==
        "t.csv:12:16: mass_g is \"125.29 g\", which is not a number; write digits with a decimal point, the "
        "unit in "
        "the name");
    CHECK(line_of(changed(per_step, "1,20,20,", "1,20,0,")) == "t.csv:12:6: tips is 0, must be 1 to 1000000");
    CHECK(line_of(changed(per_step, "1,20,20,", "1,20,20.5,")) ==
          "t.csv:12:6: tips is 20.5, must be a whole number");
    CHECK(line_of(changed(per_step, "\n2,100", "\n1,100")) ==
          "t.csv:13:1: step 1 is there twice; number the steps 1, 2, 3, ...");
    CHECK(line_of(changed(per_step, "719.31", "-719.31")) ==
          "t.csv:12:9: duration_s is -719.31, must be 0.1 to 10000000 s");
    CHECK(line_of(changed(per_step, "temperature_C = 20.5", "temperature_C = 51")) ==
          "t.csv:10:25: water_temperature_C is 51, must be 0 to 50 degC");
    CHECK(line_of(changed(per_step, "catch_diameter_mm = 200", "catch_diameter_mm = 0.2")) ==
          "t.csv:5:29: gauge.catch_diameter_mm is 0.2, must be 20 to 1000 mm; did you mean 200 mm?");
    CHECK(line_of(changed(per_step, "compartments = 2", "compartments = 1.5")) ==
          "t.csv:7:24: gauge.compartments is 1.5, must be a whole number");
    CHECK(line_of(changed(per_step, "125.29", "0.12529")) ==
          "t.csv:12:1: a tip has 0.0063 g, but nominal tip and catch diameter make 6.283 mL; check units, "
          "tips and "
          "the gauge's lines");
    CHECK(line_of(changed(per_step, "719.31", "11.99")) ==
          "t.csv:12:1: amount and duration make 1197.4 mm/h, but the set rate is 20 mm/h; check units: "
          "duration in "
          "s, flow in mL/min");
    CHECK(line_of(changed(per_step, "719.31,125.29", "719.31,1e999")) ==
          "t.csv:12:16: mass_g is \"1e999\", which is too large or too small");
}

TEST_CASE("columns and lines that are not known, are missing or contradict each other are refused") {
    CHECK(line_of(changed(per_step, ",mass_g", ",mass")) ==
          "t.csv:11:41: column \"mass\" has no unit; write mass_g");
    CHECK(line_of(changed(per_step, "duration_s", "duration")) ==
          "t.csv:11:30: column \"duration\" has no unit; write duration_s");
    CHECK(line_of(changed(per_step, "mass_g", "mass_kg")) ==
          "t.csv:11:41: column \"mass_kg\" is not known; did you mean mass_g?");
    CHECK(line_of(changed(per_step, "mass_g", "colour")) ==
          "t.csv:11:41: column \"colour\" is not known; remove it; templates/supplied/README.md lists the "
          "columns");
    CHECK(line_of(changed(per_step, "duration_s,mass_g", "mass_g,mass_g")) ==
          "t.csv:11:37: column \"mass_g\" is there twice; keep one of them");
    CHECK(line_of(changed(per_step, "mass_g", "volume_mL")) ==
          "t.csv:1:1: measure.u_mL is not given; add a line \"# measure.u_mL = ...\" before the header");
    CHECK(line_of(changed(changed(per_step, "duration_s", "volume_mL"), "# source",
                          "# measure.u_mL = 1\n# source")) ==
          "t.csv:12:1: columns mass_g and volume_mL are both there; keep one of them");
    CHECK(line_of(changed(per_step, "step,set_intensity_mm_h,tips", "step,set_intensity_mm_h,tip"))
              .find("t.csv:") == 0);
    CHECK(line_of(changed(per_step, "step,set_intensity_mm_h,tips", "step,set_intensity_mm_h,")) ==
          "t.csv:11:25: a column has no name; name it with its unit, or remove it");
    CHECK(line_of(changed(per_step, "# gauge.serial = 1\n", "")) ==
          "t.csv:1:1: gauge.serial is not given; add a line \"# gauge.serial = ...\" before the header");
    CHECK(line_of(changed(per_step, "# timing.u_s = 0.05\n", "")) ==
          "t.csv:1:1: timing.u_s is not given; add a line \"# timing.u_s = ...\" before the header");
    CHECK(line_of(changed(per_step, "# gauge.serial = 1\n", "# gauge.serail = 1\n")) ==
          "t.csv:3:3: \"gauge.serail\" is not known here; did you mean gauge.serial?");
    CHECK(line_of(changed(per_step, "# gauge.serial = 1\n", "# gauge.serial = 1\n# gauge.serial = 2\n")) ==
          "t.csv:4:3: gauge.serial is given twice, first in line 3; keep one of them");
    CHECK(line_of(changed(per_step, "# source = log", "# source =")) ==
          "t.csv:1:11: source is empty; write it, or remove the line");
    CHECK(line_of(changed(per_step, "# source = log", "# source = log\n# date = 31.3.2026")) ==
          "t.csv:2:10: date is \"31.3.2026\", which is not a date; write year, month, day, for example "
          "2025-03-31");
    CHECK(line_of(changed(per_step, "# source = log", "# source = log\n# gauge.inlet = pipe")) ==
          "t.csv:2:17: gauge.inlet is \"pipe\", must be one of straight, siphon");
    CHECK(line_of("") ==
          "t.csv:1:1: the table has no header row; name the columns, for example "
          "step,tips,duration_s,mass_g");
    CHECK(line_of(per_step.substr(0, per_step.find("1,20,20"))) ==
          "t.csv:11:1: the table has no row below its header; add the measurements");
    CHECK(line_of(changed(per_step, "2,100,", "# late\n2,100,")) ==
          "t.csv:13:1: a remark stands among the rows; put lines that begin with # before the header");
}

TEST_CASE("a table with semicolons and decimal commas is the one with commas and points") {
    std::string spreadsheet = per_step;
    for (char& c : spreadsheet) c = c == ',' ? ';' : c == '.' ? ',' : c;
    for (std::string name : {"gauge", "balance", "timing"})
        for (std::size_t at; (at = spreadsheet.find("# " + name + ",")) != std::string::npos;)
            spreadsheet[at + 2 + name.size()] = '.';
    const auto read = parse_supplied({"t.csv", spreadsheet});
    const auto plain = parse_supplied({"t.csv", per_step});
    REQUIRE(read);
    REQUIRE(read->observations.size() == 2);
    CHECK(read->observations[0].duration_s == plain->observations[0].duration_s);
    CHECK(read->gauge.gauge.nominal_tip_mm == 0.2);
    CHECK(
        line_of(changed(spreadsheet, "125,29", "1.125,29")) ==
        "t.csv:12:16: mass_g is \"1.125,29\", which is not a number; write digits with a decimal point, the "
        "unit in the name");
}

TEST_CASE("single tips that cannot be true are refused with their column") {
    CHECK(line_of(changed(per_tip, "13.55,17.00", "13.55,7.00")) ==
          "t.csv:12:5: before_g 13.55 and after_g 7 make a released mass of -6.55 g; check the row, and "
          "balance.weighs");
    CHECK(line_of(changed(per_tip, "13.55,17.00", "13.55,")) ==
          "t.csv:12:1: only one of before_g and after_g is given; give both");
    CHECK(line_of(changed(per_tip, "13.55,17.00", ",")) ==
          "t.csv:12:1: the row has no mass; write before_g and after_g, or delta_g, or leave the row out");
    CHECK(line_of(changed(per_tip, "# balance.weighs = vessel\n", "")) ==
          "t.csv:9:1: before_g and after_g are given, but not what stands on the balance; add a line \"# "
          "balance.weighs = vessel\", or gauge, or supply");
    CHECK(line_of(changed(per_tip, "1,B,", "1,C,")) ==
          "t.csv:12:3: compartment is \"C\", must be A or B, left or right, 1 or 2");
    CHECK(line_of(changed(per_tip, "1,B,", "1,A,")) ==
          "t.csv:12:1: tip 1 is there twice; number the tips 1, 2, 3, ...");
    CHECK(line_of(changed(changed(per_tip, "1,B,", "3,A,"), "2,B,", "4,A,")) ==
          "t.csv:11:1: step 1 has tips of one compartment only; measure both compartments");
    std::string both = changed(per_tip, "after_g\n", "after_g,delta_g\n");
    both = changed(changed(both, "13.55\n", "13.55,3.55\n"), "17.00\n", "17.00,3.54\n");
    both = changed(changed(both, "20.57\n", "20.57,\n"), "24.04\n", "24.04,3.47\n");
    CHECK(line_of(both) == "t.csv:12:17: delta_g is 3.54, but before_g and after_g make 3.45; check the row");
    CHECK(line_of(changed(both, "3.54", "3.45")) == "accepted");
    std::string times = changed(per_tip, "compartment,before_g,after_g", "compartment,delta_g,time_s");
    times = changed(changed(times, "10.00,13.55", "3.55,10"), "13.55,17.00", "3.45,40");
    times = changed(changed(times, "17.00,20.57", "3.57,40"), "20.57,24.04", "3.47,100");
    times = changed(times, "# source", "# timing.u_s = 0.1\n# source");
    CHECK(line_of(times) ==
          "t.csv:14:10: time_s 40 is not after that of the tip before, 40; sort the tips by time");
    CHECK(line_of(changed(times, "3.57,40", "3.57,70")) == "accepted");
}

TEST_CASE("the examples in templates are accepted") {
    const std::string folder = tipwright::test::source_dir() + "/templates/supplied/";
    const auto steps = load_supplied(folder + "per-step.csv");
    INFO((steps ? "" : steps.fault().line()));
    REQUIRE(steps);
    CHECK(steps->observations.size() == 5);
    CHECK(steps->gauge.invented);
    const auto tips = load_supplied(folder + "per-tip.csv");
    INFO((tips ? "" : tips.fault().line()));
    REQUIRE(tips);
    CHECK(tips->observations.size() == 1);
    CHECK(load_supplied(folder + "none.csv").fault().line() ==
          folder + "none.csv: no such file; check the name");
    CHECK(load_supplied(folder).fault().line() == folder + ": this is a folder; name a file in it");
}
