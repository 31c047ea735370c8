// Where a record as stored and the same record as computed again differ, field by field.
// Text, counts, states and inputs must be equal. A computed number may differ by rounding: 1e-12 relative, or
// 1e-6 of the standard uncertainty "u" that stands beside a "value". Both texts are canonical
// (record_json.hpp).
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace tipwright::report {

struct FieldDifference {
    std::string path;  // as in $.evaluation.steps[0].error_percent.value
    std::string stored;
    std::string computed;  // "nothing" where there is no such field
    bool within_rounding = false;
    // A result, which another version of the program may compute otherwise; not an observation or a
    // description.
    bool result = false;
};

// In the record's order, at most 1000. Empty when the texts are equal; one at "$" when either is no JSON.
std::vector<FieldDifference> record_differences(std::string_view stored, std::string_view computed);

// What the differences mean together.
enum class Agreement {
    equal,                 // to the last bit
    within_rounding,       //
    otherwise_by_version,  // beyond rounding, but only in results, and another version computed the record
    beyond_rounding,
};

struct RecordAgreement {
    Agreement agreement = Agreement::equal;
    // The first that counts, and how many there are of its sort; none when equal.
    FieldDifference first;
    std::size_t count = 0;

    // "$.x.value: 1.5 stored, 1.6 computed, and 3 more"; empty when equal.
    std::string text() const;
};

RecordAgreement agreement_of(const std::vector<FieldDifference>& differences, bool same_version);

}  // namespace tipwright::report
