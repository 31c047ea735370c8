// TomlTable: typed, checked access to one table of a TOML tree.
// Getters never fail on the spot: they note a Fault and give a harmless value, so that a description is
// read in one go and the fault that helps most is reported: the first in the file, but a name that
// nobody knows before the field it was perhaps meant to be. finish() of every table must be called.
#pragma once

#include <initializer_list>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "bench/descriptions/reading.hpp"
#include "bench/descriptions/toml_tree.hpp"

namespace tipwright::bench {

class TomlTable {
public:
    // path: "metrology.balance", empty for the whole file; section: how the table is headed in the file.
    TomlTable(const TomlValue* value, TextPosition at, std::string path, FaultList& faults,
              std::string section = "")
        : value_(value), at_(at), path_(std::move(path)), section_(std::move(section)), faults_(&faults) {}

    bool given() const { return value_ != nullptr; }
    bool has(std::string_view key) const;
    TextPosition at() const { return at_; }
    // Position of a key's value, of the table when it is absent.
    TextPosition at(std::string_view key) const;

    // Required, or with a value to take when absent.
    double number(std::string_view key, NumberRange range, std::optional<double> absent = std::nullopt);
    int whole_number(std::string_view key, int low, int high, std::optional<int> absent = std::nullopt);
    bool flag(std::string_view key, bool absent);
    // One line of up to 400 bytes without control characters; required texts are not empty.
    std::string text(std::string_view key);
    std::string text_or(std::string_view key, std::string absent);
    // ISO date, as a TOML date or in quotes; empty when absent.
    std::string date(std::string_view key);
    // Index of the text in the list of names.
    std::size_t choice(std::string_view key, std::span<const std::string_view> names,
                       std::optional<std::size_t> absent = std::nullopt);
    std::size_t choice(std::string_view key, std::initializer_list<std::string_view> names,
                       std::optional<std::size_t> absent = std::nullopt) {
        return choice(key, std::span(names.begin(), names.size()), absent);
    }
    std::vector<std::string> texts(std::string_view key);
    // A table that is not given reads as empty: required fields in it are not missed.
    TomlTable table(std::string_view key);
    TomlTable required_table(std::string_view key);
    std::vector<TomlTable> tables(std::string_view key);

    void fault(FaultCode code, std::string_view key, std::string what, std::string remedy);
    // Notes every key that no getter asked for.
    void finish();

private:
    const TomlValue* take(std::string_view key, bool required);
    const TomlValue* take(std::string_view key, bool required, TomlKind kind);
    std::string full(std::string_view key) const;

    const TomlValue* value_;
    TextPosition at_;
    std::string path_;
    std::string section_;
    FaultList* faults_;
    std::vector<std::string> asked_;
};

}  // namespace tipwright::bench
