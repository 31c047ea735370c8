#include "bench/supplied/metadata.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>

#include "bench/descriptions/nearest.hpp"
#include "calib/base/ascii.hpp"
#include "calib/base/joined.hpp"

namespace tipwright::bench {
namespace {

constexpr std::size_t text_bytes_max = 400;

bool is_name(std::string_view text) {
    return !text.empty() && text.front() >= 'a' && text.front() <= 'z' &&
           std::all_of(text.begin(), text.end(), [](char c) {
               return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') ||
                      c == '_' || c == '.';
           });
}

unsigned characters(std::string_view text) {
    return static_cast<unsigned>(std::count_if(
        text.begin(), text.end(), [](char c) { return (static_cast<unsigned char>(c) & 0xC0) != 0x80; }));
}

}  // namespace

FieldNumber number_in(std::string_view name, std::string_view text, char separator) {
    const std::string plain = with_decimal_point(trimmed(text), separator);
    std::string_view digits = plain;
    const std::string shown = std::string(name) + " is " + in_quotes(text);
    if (digits.empty()) return {std::nullopt, std::string(name) + " is empty", "write the number"};
    if (digits.front() == '+') digits.remove_prefix(1);
    double value = 0;
    const char* end = digits.data() + digits.size();
    const auto [stop, error] = std::from_chars(digits.data(), end, value);
    if (error == std::errc() && stop == end) {
        if (!std::isfinite(value))
            return {std::nullopt, shown + ", must be a finite number", "leave the row out"};
        return {value, "", ""};
    }
    if (error == std::errc::result_out_of_range)
        return {std::nullopt, shown + ", which is too large or too small", ""};
    if (std::count(digits.begin(), digits.end(), ',') == 1) {
        std::string meant(digits);
        meant[meant.find(',')] = '.';
        const char* meant_end = meant.data() + meant.size();
        if (std::from_chars(meant.data(), meant_end, value).ptr == meant_end)
            return {std::nullopt, shown + ", a decimal comma", "write a decimal point: " + meant};
    }
    return {std::nullopt, shown + ", which is not a number",
            "write digits with a decimal point, the unit in the name"};
}

Metadata::Metadata(const CsvText& csv, FaultList& faults) : separator_(csv.separator), faults_(faults) {
    for (const CsvField& remark : csv.remarks) {
        const auto equals = remark.text.find('=');
        if (equals == std::string::npos) continue;
        const std::string_view whole = remark.text;
        const std::string_view name = trimmed(whole.substr(0, equals));
        if (!is_name(name)) continue;
        const std::string_view value = trimmed(whole.substr(equals + 1));
        const auto offset_of = [&](std::string_view part) {
            const auto bytes =
                part.empty() ? whole.size() : static_cast<std::size_t>(part.data() - whole.data());
            return TextPosition{remark.at.line, remark.at.column + 1 + characters(whole.substr(0, bytes))};
        };
        const auto same = std::find_if(entries_.begin(), entries_.end(),
                                       [&](const Entry& entry) { return entry.name == name; });
        if (same != entries_.end()) {
            faults_.add(
                FaultCode::duplicate, offset_of(name),
                std::string(name) + " is given twice, first in line " + std::to_string(same->name_at.line),
                "keep one of them");
            continue;
        }
        entries_.push_back({std::string(name), std::string(value), offset_of(value), offset_of(name)});
    }
}

bool Metadata::has(std::string_view name) const {
    return std::any_of(entries_.begin(), entries_.end(),
                       [&](const Entry& entry) { return entry.name == name; });
}

TextPosition Metadata::at(std::string_view name) const {
    for (const Entry& entry : entries_)
        if (entry.name == name) return entry.at;
    return {};
}

void Metadata::fault(FaultCode code, std::string_view name, std::string what, std::string remedy) {
    faults_.add(code, at(name), std::move(what), std::move(remedy));
}

const Metadata::Entry* Metadata::take(std::string_view name, bool required) {
    asked_.emplace_back(name);
    for (const Entry& entry : entries_)
        if (entry.name == name) return &entry;
    if (required)
        faults_.add(FaultCode::missing_field, {}, std::string(name) + " is not given",
                    "add a line \"# " + std::string(name) + " = ...\" before the header");
    return nullptr;
}

double Metadata::number(std::string_view name, NumberRange range, std::optional<double> absent) {
    const double harmless = absent.value_or(range.low);
    const Entry* entry = take(name, !absent);
    if (entry == nullptr) return harmless;
    FieldNumber number = number_in(name, entry->value, separator_);
    if (!number.value) {
        faults_.add(FaultCode::bad_value, entry->at, std::move(number.what), std::move(number.remedy));
        return harmless;
    }
    if (!(*number.value >= range.low && *number.value <= range.high)) {
        auto [what, remedy] = out_of_range(name, *number.value, range);
        faults_.add(FaultCode::bad_value, entry->at, std::move(what), std::move(remedy));
        return harmless;
    }
    return *number.value;
}

int Metadata::whole_number(std::string_view name, int low, int high, std::optional<int> absent) {
    const std::size_t faults_before = faults_.size();
    const double value = number(name, {static_cast<double>(low), static_cast<double>(high), ""},
                                absent ? std::optional(static_cast<double>(*absent)) : std::nullopt);
    if (faults_.size() == faults_before && value != std::floor(value)) {
        fault(FaultCode::bad_value, name,
              std::string(name) + " is " + shortest(value) + ", must be a whole number", "");
        return low;
    }
    return static_cast<int>(value);
}

std::string Metadata::text(std::string_view name) {
    const Entry* entry = take(name, true);
    if (entry == nullptr) return "";
    if (entry->value.empty())
        fault(FaultCode::bad_value, name, std::string(name) + " is empty", "write it, or remove the line");
    return text_or(name, "");
}

std::string Metadata::text_or(std::string_view name, std::string absent) {
    const Entry* entry = take(name, false);
    if (entry == nullptr) return absent;
    if (entry->value.size() > text_bytes_max)
        fault(FaultCode::bad_value, name,
              std::string(name) + " has " + std::to_string(entry->value.size()) + " bytes, at most " +
                  std::to_string(text_bytes_max) + " fit on a certificate",
              "shorten it");
    else if (visible(entry->value) != entry->value)
        fault(FaultCode::bad_value, name,
              std::string(name) + " is " + in_quotes(entry->value) +
                  ", must be UTF-8 without control characters",
              "save the table as CSV in UTF-8");
    return entry->value;
}

std::string Metadata::date(std::string_view name) {
    const Entry* entry = take(name, false);
    if (entry == nullptr) return "";
    if (!is_iso_date(entry->value)) {
        fault(FaultCode::bad_value, name,
              std::string(name) + " is " + in_quotes(entry->value) + ", which is not a date",
              "write year, month, day, for example 2025-03-31");
        return "";
    }
    return entry->value;
}

std::size_t Metadata::choice(std::string_view name, const std::vector<std::string>& choices,
                             std::size_t absent) {
    const Entry* entry = take(name, false);
    if (entry == nullptr) return absent;
    const auto found = std::find(choices.begin(), choices.end(), entry->value);
    if (found != choices.end()) return static_cast<std::size_t>(found - choices.begin());
    fault(FaultCode::bad_value, name,
          std::string(name) + " is " + in_quotes(entry->value) + ", must be one of " + joined(choices, ", "),
          "");
    return absent;
}

bool Metadata::flag(std::string_view name) {
    return choice(name, {"false", "true"}, 0) == 1;
}

void Metadata::finish() {
    for (const Entry& entry : entries_) {
        if (std::find(asked_.begin(), asked_.end(), entry.name) != asked_.end()) continue;
        const std::string meant = nearest(entry.name, asked_);
        faults_.add(FaultCode::unknown_field, entry.name_at, in_quotes(entry.name) + " is not known here",
                    meant.empty() ? "remove it; in a remark put a word before the first one with ="
                                  : "did you mean " + meant + "?");
    }
}

}  // namespace tipwright::bench
