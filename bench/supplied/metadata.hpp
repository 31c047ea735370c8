// Metadata: the lines "# name = value" before a table's header, with typed getters in the manner of
// bench/descriptions/toml_reader.hpp. Other remarks are left alone. Internal to this folder.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "bench/descriptions/reading.hpp"
#include "calib/base/csv.hpp"

namespace tipwright::bench {

class Metadata {
public:
    Metadata(const CsvText& csv, FaultList& faults);

    bool has(std::string_view name) const;
    TextPosition at(std::string_view name) const;
    double number(std::string_view name, NumberRange range, std::optional<double> absent = std::nullopt);
    int whole_number(std::string_view name, int low, int high, std::optional<int> absent = std::nullopt);
    std::string text(std::string_view name);
    std::string text_or(std::string_view name, std::string absent);
    std::string date(std::string_view name);
    std::size_t choice(std::string_view name, const std::vector<std::string>& choices, std::size_t absent);
    bool flag(std::string_view name);
    void fault(FaultCode code, std::string_view name, std::string what, std::string remedy);
    // Notes every name that no getter asked for.
    void finish();

private:
    struct Entry {
        std::string name;
        std::string value;
        TextPosition at;  // of the value
        TextPosition name_at;
    };
    const Entry* take(std::string_view name, bool required);

    char separator_;
    std::vector<Entry> entries_;
    std::vector<std::string> asked_;
    FaultList& faults_;
};

// A number as it stands in a field; between semicolons or tabs a comma may be its decimal sign. Fault text in
// `what` and `remedy` when it is none.
struct FieldNumber {
    std::optional<double> value;
    std::string what;
    std::string remedy;
};
FieldNumber number_in(std::string_view name, std::string_view text, char separator);

}  // namespace tipwright::bench
