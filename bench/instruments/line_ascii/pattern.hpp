// Pattern: what a line of text looks like, in the notation of instrument profiles.
//   literal text      stands for itself; {{ and }} for a brace
//   blanks            one or more blanks or tabs; at both ends of a line they do not count
//   {name}            a field; which names there are depends on what the pattern is for
//   {name:7}          a number set right in 7 columns, longer only when its digits need it; a blank before
//                     the field is then exactly one. A lost or doubled byte cannot go unseen in it.
//   {name:.2}         a number with exactly 2 decimals;  {name:7.2}  both
//   {_}               any one word, not looked at; a word ends at a blank or where the literal after it
//   begins
// The same notation is used for lines that are sent: {flow_mL_min:.3} prints three decimals.
// A line with a byte that is no printable ASCII matches nothing.
#pragma once

#include <boost/container/static_vector.hpp>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "bench/instruments/decimal.hpp"
#include "calib/base/fault.hpp"

namespace tipwright::bench {

enum class FieldKind {
    number,
    word,  // up to the next blank or the literal that follows
    text,  // all the rest of the line
};

struct FieldName {
    std::string_view name;
    FieldKind kind;
};

// What a field of a matching line held. Views into the line.
struct FieldValue {
    std::string_view text;
    Decimal number;  // of a number
};

inline constexpr std::size_t pattern_fields_max = 8;
// In the order of Pattern::fields().
using FieldValues = boost::container::static_vector<FieldValue, pattern_fields_max>;

// Where and why a line does not match: what people who write a profile want to see.
struct PatternMismatch {
    std::size_t at = 0;  // bytes of the line before the place
    std::string wanted;  // what the pattern has there, for messages
};

class Pattern {
public:
    // `fields` lives as long as the pattern. Fault: bad_value, its `where` left to the caller.
    static Result<Pattern> compile(std::string_view notation, std::span<const FieldName> fields,
                                   char decimal_sign = '.');

    // False when the line does not match, whole; `values` are then of no use.
    bool match(std::string_view line, FieldValues& values) const;
    // Nothing when the line matches.
    std::optional<PatternMismatch> mismatch(std::string_view line) const;

    // Names of the fields, in the order in which they stand.
    const std::vector<std::string_view>& fields() const { return fields_; }
    // Position of a field in fields(), or nothing.
    std::optional<std::size_t> position(std::string_view field) const;

    // The line to send, numbers put in. Every number field must be among the values.
    std::string print(std::span<const std::pair<std::string_view, double>> values) const;

    const std::string& notation() const { return notation_; }

private:
    enum class PartKind { literal, blanks, one_blank, number, word, text, ignored_word };
    struct Part {
        PartKind kind{};
        std::string literal;
        std::string_view name;
        int width = 0;      // 0: any
        int decimals = -1;  // -1: any
        bool zero_filled = false;
        char stop = ' ';  // of a word: what ends it besides a blank
    };

    bool match_number(const Part& part, std::string_view& rest, FieldValues& values) const;
    bool match_part(const Part& part, std::string_view& rest, FieldValues& values) const;
    static std::string wording_of(const Part& part);

    std::string notation_;
    std::vector<Part> parts_;
    std::vector<std::string_view> fields_;
    char decimal_sign_ = '.';
};

}  // namespace tipwright::bench
