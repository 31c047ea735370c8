#include "report/record/record_difference.hpp"

#include <catch2/catch.hpp>

namespace {

using namespace tipwright::report;

RecordAgreement between(const std::string& stored, const std::string& computed, bool same_version = true) {
    return agreement_of(record_differences(stored, computed), same_version);
}

std::string result(const std::string& value, const std::string& u) {
    return R"({"number": "DRAFT", "evaluation": {"steps": [{"observation": {"tips": 20, "mass_g": 80.25}, "error_percent": {"value": )" +
           value + R"(, "u": )" + u + R"(}, "dof": 17.5}]}})";
}

}  // namespace

TEST_CASE("A computed number may differ by rounding, on either side of each tolerance") {
    CHECK(between(result("1.5", "0.1"), result("1.5", "0.1")).agreement == Agreement::equal);
    CHECK(between(result("1.5", "0"), result("1.5000000000014", "0")).agreement ==
          Agreement::within_rounding);
    CHECK(between(result("1.5", "0"), result("1.5000000000016", "0")).agreement ==
          Agreement::beyond_rounding);
    CHECK(between(result("1.5", "0.1"), result("1.50000009", "0.1")).agreement == Agreement::within_rounding);
    CHECK(between(result("1.5", "0.1"), result("1.50000011", "0.1")).agreement == Agreement::beyond_rounding);
    // A larger u in one of the two does not widen what may differ, nor may u itself by more than rounding.
    CHECK(between(result("1.5", "100"), result("1.50001", "0.1")).agreement == Agreement::beyond_rounding);
    CHECK(between(result("1.5", "0.1"), result("1.5", "0.1000000001")).agreement ==
          Agreement::beyond_rounding);
}

TEST_CASE("Counts, text, observations and fields that are not there must be equal") {
    const std::string stored = result("1.5", "0.1");
    const auto with = [&](const std::string& from, const std::string& to) {
        std::string text = stored;
        text.replace(text.find(from), from.size(), to);
        return text;
    };
    for (const bool same_version : {true, false}) {
        CHECK(between(stored, with("DRAFT", "DRAFT2"), same_version).agreement == Agreement::beyond_rounding);
        CHECK(between(stored, with("20", "21"), same_version).agreement == Agreement::beyond_rounding);
        CHECK(between(stored, with("80.25", "80.25000000000001"), same_version).agreement ==
              Agreement::beyond_rounding);
    }
    const auto gone = between(stored, with(R"(, "dof": 17.5)", ""));
    CHECK(gone.agreement == Agreement::beyond_rounding);
    CHECK(gone.text() == "$.evaluation.steps[0].dof: 17.5 stored, nothing computed");
    CHECK(between(stored, with("17.5", R"("17.5")")).agreement == Agreement::beyond_rounding);
    CHECK(between(stored, stored + " ").agreement == Agreement::beyond_rounding);
    CHECK(between(stored, "{").agreement == Agreement::beyond_rounding);
}

TEST_CASE("Another version may compute results otherwise, and both values are told") {
    const auto other = between(result("1.5", "0.1"), result("1.6", "0.2"), false);
    CHECK(other.agreement == Agreement::otherwise_by_version);
    CHECK(other.text() == "$.evaluation.steps[0].error_percent.value: 1.5 stored, 1.6 computed, and 1 more");
    CHECK(between(result("1.5", "0.1"), result("1.6", "0.2"), true).agreement == Agreement::beyond_rounding);
    CHECK(between(result("1.5", "0"), result("1.5000000000014", "0"), false).agreement ==
          Agreement::within_rounding);
}
