#include <catch2/catch.hpp>

#include <nlohmann/json.hpp>

#include <cmath>
#include <functional>
#include <limits>

#include "calib/base/text.hpp"
#include "report/record/record_json.hpp"
#include "tests/report/sample_record.hpp"

using namespace tipwright;
using report::record_from_json;
using report::record_to_json;
using Json = nlohmann::ordered_json;

namespace {

test::SampleOptions everything() {
    test::SampleOptions wish;
    wish.intensities_mm_h = {2, 20, 50, 90, 130, 170, 200, 300, 500};
    wish.all_candidates = true;
    wish.long_names = true;
    return wish;
}

// Calls `visit` with a pointer to every value of the document that is not an empty list.
void each_place(const Json& node, const Json::json_pointer& at,
                const std::function<void(const Json::json_pointer&, const Json&)>& visit) {
    if (!at.empty()) visit(at, node);
    if (node.is_object())
        for (const auto& item : node.items()) each_place(item.value(), at / item.key(), visit);
    else if (node.is_array() && !node.empty())
        each_place(node[0], at / 0, visit);
}

Fault fault_of(const Json& document) {
    const auto result = record_from_json(document.dump(), "r.json");
    REQUIRE_FALSE(result.ok());
    return result.fault();
}

// $.evaluation.steps[0].u for /evaluation/steps/0/u
std::string path_of(const Json::json_pointer& pointer) {
    std::string out = "$";
    std::string rest = pointer.to_string();
    for (std::size_t at = 0; at < rest.size();) {
        const std::size_t end = std::min(rest.find('/', at + 1), rest.size());
        const std::string part = rest.substr(at + 1, end - at - 1);
        const bool index = !part.empty() && part.find_first_not_of("0123456789") == std::string::npos;
        out += index ? "[" + part + "]" : "." + part;
        at = end;
    }
    return out;
}

}  // namespace

TEST_CASE("a record goes to JSON and back without a bit lost") {
    for (const auto& wish : {test::SampleOptions{}, everything(), [] {
                                 test::SampleOptions w;
                                 w.no_duration = true;
                                 return w;
                             }()}) {
        const report::Record record = test::sample_record(wish);
        const std::string text = record_to_json(record);
        const auto back = record_from_json(text, "r.json");
        REQUIRE(back.ok());
        CHECK(record_to_json(*back) == text);
        REQUIRE(back->evaluation.steps.size() == record.evaluation.steps.size());
        for (std::size_t i = 0; i < record.evaluation.steps.size(); ++i) {
            CHECK(back->evaluation.steps[i].error_percent.value ==
                  record.evaluation.steps[i].error_percent.value);
            CHECK(back->evaluation.steps[i].budget[6].dlnV == record.evaluation.steps[i].budget[6].dlnV);
            CHECK(back->evaluation.steps[i].observation.duration_s ==
                  record.evaluation.steps[i].observation.duration_s);
        }
        CHECK(back->evaluation.model.has_value() == record.evaluation.model.has_value());
        CHECK(back->customer.name == record.customer.name);
        CHECK(back->evaluation.conformity.overall == record.evaluation.conformity.overall);
    }
}

TEST_CASE("awkward numbers keep their bits") {
    for (double number : {0.1, 1.0 / 3, -0.0, 5e-324, 1.7976931348623157e308, 123456789012345680000.0, 1e22,
                          1e23, 9007199254740993.0, 2.2250738585072011e-308, 0x1.fffffffffffffp-3}) {
        report::Record record = test::sample_record();
        record.evaluation.steps[0].evaporated_g = number;
        const auto back = record_from_json(record_to_json(record), "r.json");
        REQUIRE(back.ok());
        CHECK(back->evaluation.steps[0].evaporated_g == number);
        CHECK(std::signbit(back->evaluation.steps[0].evaporated_g) == std::signbit(number));
    }
    report::Record record = test::sample_record();
    record.evaluation.steps[0].budget[3].dof = std::numeric_limits<double>::infinity();
    const auto back = record_from_json(record_to_json(record), "r.json");
    REQUIRE(back.ok());
    CHECK(std::isinf(back->evaluation.steps[0].budget[3].dof));
}

TEST_CASE("a number that is not finite is a bug of the caller, but for degrees of freedom") {
    report::Record record = test::sample_record();
    record.evaluation.steps[0].mass_g = std::nan("");
    CHECK_THROWS_AS(record_to_json(record), std::domain_error);
    record = test::sample_record();
    record.evaluation.steps[0].error_percent.u = calib::infinite_dof;
    CHECK_THROWS_AS(record_to_json(record), std::domain_error);
}

TEST_CASE("odd text survives, bytes that are not UTF-8 become the replacement character") {
    report::Record record = test::sample_record();
    record.method = "tab\t newline\n quote\" backslash\\ nul" + std::string(1, '\0') +
                    " Ελληνικά кирилица ł 🌧";
    record.place = "bad \xff\xc0\xaf end";
    const auto back = record_from_json(record_to_json(record), "r.json");
    REQUIRE(back.ok());
    CHECK(back->method == record.method);
    CHECK(back->place == "bad \xEF\xBF\xBD\xEF\xBF\xBD\xEF\xBF\xBD end");
}

TEST_CASE("every field that is missing is named by its path") {
    const Json whole = Json::parse(record_to_json(test::sample_record(everything())));
    int removed = 0;
    each_place(whole, Json::json_pointer(), [&](const Json::json_pointer& at, const Json&) {
        if (whole.at(at.parent_pointer()).is_array()) return;
        Json document = whole;
        document[at.parent_pointer()].erase(at.back());
        const Fault fault = fault_of(document);
        if (at.to_string() == "/format") {
            CHECK(fault.code == FaultCode::bad_value);
        } else {
            CHECK(fault.code == FaultCode::missing_field);
            CHECK(fault.where == "r.json: " + path_of(at));
        }
        ++removed;
    });
    CHECK(removed > 240);
}

TEST_CASE("every field of the wrong type is named by its path") {
    const Json whole = Json::parse(record_to_json(test::sample_record(everything())));
    int changed = 0;
    each_place(whole, Json::json_pointer(), [&](const Json::json_pointer& at, const Json& value) {
        const std::string path = at.to_string();
        if (path == "/format" || path == "/version") return;
        Json document = whole;
        document[at] = value.is_string() ? Json(7) : value.is_boolean() ? Json(0) : Json("x");
        const Fault fault = fault_of(document);
        INFO(path);
        CHECK(fault.code == FaultCode::bad_value);
        CHECK(fault.where == "r.json: " + path_of(at));
        ++changed;
    });
    CHECK(changed > 240);
}

TEST_CASE("impossible values are refused") {
    const Json whole = Json::parse(record_to_json(test::sample_record()));
    const auto refused = [&](const char* place, Json value) {
        Json document = whole;
        document[Json::json_pointer(place)] = std::move(value);
        return fault_of(document);
    };
    CHECK(refused("/evaluation/steps/0/observation/tips", 0).code == FaultCode::bad_value);
    CHECK(refused("/evaluation/steps/0/observation/tips", 2.5).code == FaultCode::bad_value);
    CHECK(refused("/evaluation/steps/0/observation/conditions/water_temperature_C", 51).code ==
          FaultCode::bad_value);
    CHECK(refused("/evaluation/steps/0/error_percent/u", -1e-9).code == FaultCode::bad_value);
    CHECK(refused("/evaluation/steps/0/error_percent/dof", 0).code == FaultCode::bad_value);
    CHECK(refused("/gauge/nominal_tip_mm", 200).code == FaultCode::bad_value);
    CHECK(refused("/gauge/inlet", "funnel").what.find("one of straight, siphon") != std::string::npos);
    CHECK(refused("/evaluation/steps/1/observation/step", 1).code == FaultCode::inconsistent);
    CHECK(refused("/evaluation/model/candidates/1/covariance", Json::array({Json::array({1})})).code ==
          FaultCode::inconsistent);
    CHECK(refused("/colour", "red").code == FaultCode::unknown_field);
    // A long one is shown as far as it goes, and no letter of it by half.
    for (std::size_t before : {54, 55, 56}) {
        const Fault fault = refused("/gauge/inlet", std::string(before, 'x') + "\xe2\x82\xac and more");
        CHECK(fault.what == valid_utf8(fault.what));
    }
    CHECK(refused("/gauge/colour", "red").where == "r.json: $.gauge");
    CHECK(refused("/version", 3).code == FaultCode::unsupported_version);
    CHECK(refused("/version", "1").code == FaultCode::unsupported_version);
}

TEST_CASE("text that is no record is refused in one line") {
    const auto code = [](std::string_view text) {
        const auto result = record_from_json(text, "r.json");
        REQUIRE_FALSE(result.ok());
        CHECK(result.fault().line().find('\n') == std::string::npos);
        return result.fault().code;
    };
    CHECK(code("") == FaultCode::syntax);
    CHECK(code("{") == FaultCode::syntax);
    CHECK(code("[]") == FaultCode::bad_value);
    CHECK(code("{}") == FaultCode::bad_value);
    CHECK(code("null") == FaultCode::bad_value);
    CHECK(code("{\"format\":\"tipwright record\"}") == FaultCode::missing_field);
    CHECK(code("{\"format\":\"tipwright record\",\"version\":1,\"version\":1}") == FaultCode::duplicate);
    CHECK(code("{\"version\":1e999}") == FaultCode::syntax);
    CHECK(code("\xff\xfe") == FaultCode::syntax);
    CHECK(code(std::string(100000, '[')) != FaultCode::interrupted);
    CHECK(code(std::string(report::max_record_bytes + 1, ' ')) == FaultCode::file_too_large);

    const auto broken = record_from_json("{\n \"format\": oops}", "r.json");
    CHECK(broken.fault().where == "r.json:2:12");
}

TEST_CASE("a record cut short anywhere is refused") {
    const std::string text = record_to_json(test::sample_record());
    for (std::size_t keep = 0; keep + 2 < text.size(); keep += 97)
        CHECK_FALSE(record_from_json(std::string_view(text).substr(0, keep), "r.json").ok());
}
