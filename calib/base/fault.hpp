// Fault: why something could not be done, as one line for people and one code for logs.
// Result<T>: a value or a Fault. Used for every failure whose reason lies outside the program;
// exceptions are for bugs. The list of codes is closed: tests/calib/base/fault_test.cpp walks it.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <variant>

namespace tipwright {

enum class FaultCode {
    // what the user gave
    usage,
    file_missing,
    file_unreadable,
    file_unwritable,
    file_too_large,
    syntax,
    missing_field,
    unknown_field,
    bad_value,
    duplicate,
    unsupported_version,
    damaged,
    // mathematics
    too_few_points,
    bad_covariance,
    not_finite,
    no_convergence,
    inconsistent,
    // bench
    link_lost,
    no_answer,
    garbled_answer,
    refused,
    overload,
    counter_silent,
    pump_not_turning,
    flow_not_held,
    vessel_full,
    time_limit,
    contacts_disagree,
    water_behind,
    disk_full,
    interrupted,
    // register and seal
    not_permitted,
    wrong_passphrase,
    database_unreachable,
};

// Name for logs and JSON, for example "pump_not_turning".
std::string_view name_of(FaultCode code);
// One sentence for people that says what the code means.
std::string_view sentence_of(FaultCode code);
// Inverse of name_of; nothing when the name is not on the list.
std::optional<FaultCode> fault_code_named(std::string_view name);
// Number of codes: they run from 0 to fault_code_count - 1.
inline constexpr int fault_code_count = static_cast<int>(FaultCode::database_unreachable) + 1;

// Text with control characters, bytes that are no UTF-8 and characters that break or reorder a line
// written out as \n, \x1b, \u202e.
std::string visible(std::string_view text);
// A value for use in Fault::what: in quotes, made visible, cut to 60 characters.
std::string in_quotes(std::string_view value);

struct Fault {
    FaultCode code{};
    std::string what;    // what is wrong, with the offending value
    std::string where;   // file:line:column, field, step, instrument; may be empty
    std::string remedy;  // what to do about it; may be empty

    // "where: what; remedy" in one line, control characters made visible.
    std::string line() const;
};

template <class T>
class [[nodiscard]] Result {
public:
    Result(T value) : content_(std::in_place_index<0>, std::move(value)) {}
    Result(Fault fault) : content_(std::in_place_index<1>, std::move(fault)) {}

    bool ok() const { return content_.index() == 0; }
    explicit operator bool() const { return ok(); }

    T& value() { return std::get<0>(content_); }
    const T& value() const { return std::get<0>(content_); }
    T& operator*() { return value(); }
    const T& operator*() const { return value(); }
    T* operator->() { return &value(); }
    const T* operator->() const { return &value(); }

    Fault& fault() { return std::get<1>(content_); }
    const Fault& fault() const { return std::get<1>(content_); }

private:
    std::variant<T, Fault> content_;
};

struct Done {};
using Outcome = Result<Done>;

}  // namespace tipwright
