// Records against templates/record.schema.json by an independent validator (python3-jsonschema).
#include <catch2/catch.hpp>

#include <nlohmann/json.hpp>

#include <cstdlib>
#include <filesystem>
#include <fstream>

#include "report/record/record_json.hpp"
#include "report/record/record_schema.hpp"
#include "tests/report/sample_record.hpp"
#include "tests/support/paths.hpp"

using namespace tipwright;
namespace fs = std::filesystem;

namespace {

std::string written(const std::string& stem, const std::string& text) {
    const fs::path folder = tipwright::test::scratch_dir() / "tests" / "record_schema";
    fs::create_directories(folder);
    const fs::path file = folder / (stem + ".json");
    std::ofstream(file, std::ios::binary) << text;
    return "'" + file.string() + "'";
}

int validate(const std::string& arguments) {
    const std::string source = tipwright::test::source_dir();
    return std::system(("python3 '" + source + "/tests/report/validate_record.py' " + arguments).c_str());
}

const std::string schema = "'" + tipwright::test::source_dir() + "/templates/record.schema.json' ";

std::string changed(const char* place, const nlohmann::json& value) {
    nlohmann::json document = nlohmann::json::parse(report::record_to_json(test::sample_record()));
    document[nlohmann::json::json_pointer(place)] = value;
    return document.dump();
}

}  // namespace

TEST_CASE("records of every sort are valid against the schema") {
    test::SampleOptions long_run;
    long_run.intensities_mm_h = {2, 5, 10, 20, 50, 90, 130, 170, 200, 300, 400, 500};
    long_run.all_candidates = true;
    long_run.long_names = true;
    test::SampleOptions no_duration;
    no_duration.no_duration = true;
    no_duration.limit_percent = 0;
    test::SampleOptions repeated;
    repeated.repeats = 5;
    CHECK(validate(schema + written("repeated", report::record_to_json(test::sample_record(repeated)))) == 0);
    CHECK(validate(schema + written("three", report::record_to_json(test::sample_record())) + " " +
                   written("twelve", report::record_to_json(test::sample_record(long_run))) + " " +
                   written("static", report::record_to_json(test::sample_record(no_duration)))) == 0);
}

TEST_CASE("the schema asks for every field, in its type") {
    test::SampleOptions repeated;
    repeated.repeats = 3;
    repeated.monte_carlo = true;
    CHECK(validate("--every-field " + schema +
                   written("every_field", report::record_to_json(test::sample_record(repeated)))) == 0);
}

TEST_CASE("schema and reader refuse the same impossible values") {
    const std::pair<const char*, nlohmann::json> cases[] = {
        {"/evaluation/steps/0/observation/tips", 0},
        {"/evaluation/steps/0/observation/conditions/water_temperature_C", 51},
        {"/evaluation/steps/0/error_percent/u", -1e-9},
        {"/evaluation/steps/0/error_percent/dof", 0},
        {"/evaluation/conformity/steps/0/wrong_probability", 1.01},
        {"/gauge/nominal_tip_mm", 200},
        {"/gauge/compartments", 3},
        {"/gauge/inlet", "funnel"},
        {"/gauge/colour", "red"},
        {"/version", 3},
    };
    std::string files;
    int number = 0;
    for (const auto& [place, value] : cases) {
        INFO(place);
        const std::string text = changed(place, value);
        CHECK_FALSE(report::record_from_json(text, "r.json").ok());
        files += " " + written("refused_" + std::to_string(++number), text);
    }
    CHECK(validate("--refused " + schema + files) == 0);
}

TEST_CASE("the schema that is shipped is the one its fields make") {
    std::ifstream file(test::source_dir() + "/templates/record.schema.json", std::ios::binary);
    const std::string shipped{std::istreambuf_iterator<char>(file), {}};
    INFO("bash tests/schemas.sh writes it anew");
    CHECK(shipped == report::record_schema());
}
