// The budget of one step of each gauge kind, and of steps with more, against golden_budgets.txt, which
// golden_budgets.py computed from the cited sources, apart from this program, with every sensitivity a
// derivative of the whole model.
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <fstream>
#include <map>
#include <set>
#include <sstream>
#include <string>
#include <vector>

#include "calib/rate/capability_floor.hpp"
#include "calib/rate/step_budget.hpp"
#include "tests/support/paths.hpp"
#include "tests/support/shipped_kinds.hpp"

namespace {

using namespace tipwright;
using calib::BudgetComponent;

// The program's sensitivities leave out what these do to each other: buoyancy changes with the water's
// density by rho_air / rho_water, the balance's sensitivity does not act on what evaporated, u of the air's
// density is a difference over one u.
constexpr double second_order = 2e-3;
constexpr double u_tolerance =
    5e-4;  // of a combined u, of whose variance the water's temperature is up to a half
constexpr double value_tolerance = 1e-12;

struct Golden {
    std::string name;  // of a kind, or of what a step of a kind has more
    std::map<std::string, double> input;
    std::vector<BudgetComponent> budget;
    std::map<std::string, calib::Uncertain> results;
};

double number(std::istream& in) {
    std::string word;
    in >> word;
    return std::stod(word);
}

std::vector<Golden> golden() {
    std::ifstream file(test::source_dir() + "/tests/calib/rate/golden_budgets.txt");
    std::vector<Golden> cases;
    std::string line;
    while (std::getline(file, line)) {
        std::istringstream words(line);
        std::string what;
        std::string name;
        words >> what >> name;
        if (what == "case") {
            cases.push_back({name, {}, {}, {}});
        } else if (what == "input") {
            cases.back().input[name] = number(words);
        } else if (what == "component") {
            BudgetComponent component;
            component.id = name;
            for (double* field : {&component.u, &component.dof, &component.dlnV, &component.dlnv,
                                  &component.dlnt, &component.dlnA})
                *field = number(words);
            words >> component.cause;
            if (component.cause == "-") component.cause.clear();
            cases.back().budget.push_back(component);
        } else {
            const double value = number(words);
            const double u = number(words);
            cases.back().results[name] = {value, u, number(words)};
        }
    }
    return cases;
}

Result<calib::StepResult> step_of(const Golden& given) {
    const auto in = [&](const char* name) { return given.input.at(name); };
    const auto in_or_0 = [&](const char* name) { return given.input.count(name) != 0 ? in(name) : 0; };
    calib::BenchMetrology bench;
    bench.balance.resolution_g = in("resolution_g");
    bench.balance.repeatability_g = in("repeatability_g");
    bench.balance.repeatability_dof = in("repeatability_dof");
    bench.balance.linearity_half_width_g = in("linearity_half_width_g");
    bench.balance.calibration_relative_u = in("calibration_relative_u");
    bench.balance.drift_relative_half_width = in("drift_relative_half_width");
    bench.balance.zero_drift_half_width_g_h = in("zero_drift_half_width_g_h");
    bench.evaporation_g_h = {in("evaporation_g_h"), in("evaporation_u_g_h"), in("evaporation_dof")};
    bench.residual_u_g = in("residual_u_g");
    bench.water_allowance_kg_m3 = in_or_0("water_allowance_kg_m3");
    bench.clock_relative_u = in("clock_relative_u");
    bench.edge_time_u_s = in("edge_time_u_s");
    bench.water_temperature_u_C = in("water_temperature_u_C");
    bench.air_temperature_u_C = in("air_temperature_u_C");
    bench.air_pressure_u_hPa = in("air_pressure_u_hPa");
    bench.relative_humidity_u_percent = in("relative_humidity_u_percent");
    calib::Gauge gauge;
    gauge.nominal_tip_mm = in("nominal_tip_mm");
    gauge.catch_diameter_mm = {in("catch_diameter_mm"), in("catch_diameter_u_mm"), in("catch_diameter_dof")};
    gauge.compartments = static_cast<int>(in("compartments"));
    gauge.inlet = in("siphon") != 0 ? calib::Inlet::siphon : calib::Inlet::straight;
    gauge.siphon_tail_percent = in_or_0("siphon_tail_percent");
    calib::StepObservation observation;
    observation.step = 1;
    observation.is_volume = in_or_0("is_volume") != 0;
    observation.tips = static_cast<int>(in("tips"));
    observation.duration_s = in("duration_s");
    observation.balance_difference_g = in("balance_difference_g");
    observation.balance_readings_per_edge = static_cast<int>(in("readings_per_edge"));
    observation.weighing_scatter_u_g = in("weighing_scatter_u_g");
    observation.scatter = {in("scatter_percent"), in("tips") - 1, "intervals"};
    observation.conditions = {in("water_temperature_C"), in("air_temperature_C"), in("air_pressure_hPa"),
                              in("relative_humidity_percent")};
    calib::TipScatter scatter = observation.scatter;
    if (in_or_0("scatter_is_pooled") != 0) scatter.from = "pooled over 3 steps";
    return calib::evaluate_step(observation, gauge, bench, calib::default_coverage, scatter,
                                {"R-1", "G-5", "B-7", "M-2", "C-3"});
}

void check_uncertain(const calib::Uncertain& own, const calib::Uncertain& expected) {
    CHECK(own.value == Approx(expected.value).epsilon(value_tolerance).margin(1e-10));
    CHECK(own.u == Approx(expected.u).epsilon(u_tolerance));
    CHECK(own.dof == Approx(expected.dof).epsilon(4 * u_tolerance));
}

}  // namespace

// Kinds are data that calib does not read: only their names are looked up here.
TEST_CASE("every gauge kind that is here has a golden budget") {
    const std::set<std::string> kinds = test::shipped_kinds();
    REQUIRE(kinds.size() >= 5);
    std::set<std::string> computed;
    for (const Golden& one : golden()) computed.insert(one.name);
    for (const std::string& kind : kinds) {
        INFO(kind << ": a line in golden_budgets.py, then run it");
        CHECK(computed.count(kind) == 1);
    }
}

TEST_CASE("every component that a step's budget may have is in a golden budget") {
    std::set<std::string> computed;
    for (const Golden& one : golden())
        for (const BudgetComponent& component : one.budget) computed.insert(component.id);
    // Not of a step by itself: tests/calib/rate/repeats_test.cpp, tests/calib/rate/capability_floor_test.cpp.
    computed.insert(std::string(calib::run_scatter_id));
    computed.insert(std::string(calib::capability_id));
    for (const std::string_view id : calib::budget_component_ids()) {
        INFO(id << ": its place in the model of golden_budgets.py, then run it");
        CHECK(computed.count(std::string(id)) == 1);
    }
}

TEST_CASE("golden budget of each gauge kind") {
    const auto cases = golden();
    REQUIRE(cases.size() >= 5);
    for (const Golden& expected : cases) {
        INFO(expected.name);
        const auto step = step_of(expected);
        REQUIRE(step);
        REQUIRE(step->budget.size() == expected.budget.size());
        for (std::size_t i = 0; i < expected.budget.size(); ++i) {
            const BudgetComponent& own = step->budget[i];
            const BudgetComponent& golden_one = expected.budget[i];
            INFO(golden_one.id);
            CHECK(own.id == golden_one.id);
            // Deviations of unknown sign, which nothing was corrected for.
            if (own.unit == "%") CHECK(own.value == 0);
            CHECK(own.u ==
                  Approx(golden_one.u).epsilon(golden_one.id == "air_density" ? second_order : 1e-12));
            CHECK(own.dof == golden_one.dof);
            std::string cause = own.cause;
            std::replace(cause.begin(), cause.end(), ' ', '_');
            CHECK(cause == golden_one.cause);
            CHECK(own.dlnV == Approx(golden_one.dlnV).epsilon(second_order).margin(1e-15));
            CHECK(own.dlnv == Approx(golden_one.dlnv).epsilon(1e-12).margin(1e-15));
            CHECK(own.dlnt == Approx(golden_one.dlnt).epsilon(1e-12).margin(1e-15));
            CHECK(own.dlnA == Approx(golden_one.dlnA).epsilon(1e-12).margin(1e-15));
        }
        check_uncertain(step->volume_per_tip_mL, expected.results.at("volume_per_tip_mL"));
        check_uncertain(*step->flow_mL_min, expected.results.at("flow_mL_min"));
        check_uncertain(*step->reference_intensity_mm_h, expected.results.at("reference_intensity_mm_h"));
        check_uncertain(step->error_percent, expected.results.at("error_percent"));
    }
}
