#include "bench/descriptions/toml_reader.hpp"

#include <algorithm>

#include "bench/descriptions/nearest.hpp"
#include "calib/base/joined.hpp"

namespace tipwright::bench {
namespace {

constexpr std::size_t text_bytes_max = 400;

std::string shown(const TomlValue& value) {
    switch (value.kind) {
        case TomlKind::text:
            return in_quotes(value.text);
        case TomlKind::whole_number:
            return std::to_string(value.whole_number);
        case TomlKind::number:
            return shortest(value.number);
        case TomlKind::flag:
            return value.flag ? "true" : "false";
        case TomlKind::date:
            return value.text;
        default:
            return std::string(name_of(value.kind));
    }
}

}  // namespace

std::string TomlTable::full(std::string_view key) const {
    return path_.empty() ? std::string(key) : path_ + "." + std::string(key);
}

bool TomlTable::has(std::string_view key) const {
    return value_ != nullptr && value_->find(key) != nullptr;
}

TextPosition TomlTable::at(std::string_view key) const {
    const TomlEntry* entry = value_ == nullptr ? nullptr : value_->find(key);
    return entry == nullptr ? at_ : entry->value.at;
}

void TomlTable::fault(FaultCode code, std::string_view key, std::string what, std::string remedy) {
    faults_->add(code, at(key), std::move(what), std::move(remedy));
}

const TomlValue* TomlTable::take(std::string_view key, bool required) {
    asked_.emplace_back(key);
    if (value_ == nullptr) return nullptr;
    if (const TomlEntry* entry = value_->find(key)) return &entry->value;
    if (required)
        faults_->add(FaultCode::missing_field, at_, full(key) + " is not given",
                     path_.empty() ? "add it at the top of the file" : "add it to " + section_);
    return nullptr;
}

const TomlValue* TomlTable::take(std::string_view key, bool required, TomlKind kind) {
    const TomlValue* value = take(key, required);
    if (value == nullptr || value->kind == kind) return value;
    if (kind == TomlKind::number && value->kind == TomlKind::whole_number) return value;
    std::string remedy;
    if (value->kind == TomlKind::text && kind != TomlKind::table && kind != TomlKind::list)
        remedy = "write it without quotes";
    if (kind == TomlKind::text) remedy = "put it in quotes";
    if (kind == TomlKind::whole_number && value->kind == TomlKind::number)
        remedy = "write it without a decimal point";
    if (kind == TomlKind::list) remedy = "write it in brackets [ ]";
    if (kind == TomlKind::table) remedy = "write it as a section [" + full(key) + "]";
    fault(FaultCode::bad_value, key,
          full(key) + " is " + shown(*value) + ", must be " + std::string(name_of(kind)), remedy);
    return nullptr;
}

double TomlTable::number(std::string_view key, NumberRange range, std::optional<double> absent) {
    const double harmless = absent.value_or(range.low);
    const TomlValue* value = take(key, !absent, TomlKind::number);
    if (value == nullptr) return harmless;
    const double found = value->number;
    if (!(found >= range.low && found <= range.high)) {
        auto [what, remedy] = out_of_range(full(key), found, range);
        fault(FaultCode::bad_value, key, std::move(what), std::move(remedy));
        return harmless;
    }
    return found;
}

int TomlTable::whole_number(std::string_view key, int low, int high, std::optional<int> absent) {
    const int harmless = absent.value_or(low);
    const TomlValue* value = take(key, !absent, TomlKind::whole_number);
    if (value == nullptr) return harmless;
    if (value->whole_number < low || value->whole_number > high) {
        fault(FaultCode::bad_value, key,
              full(key) + " is " + shown(*value) + ", must be " + std::to_string(low) + " to " +
                  std::to_string(high),
              "");
        return harmless;
    }
    return static_cast<int>(value->whole_number);
}

bool TomlTable::flag(std::string_view key, bool absent) {
    const TomlValue* value = take(key, false, TomlKind::flag);
    return value == nullptr ? absent : value->flag;
}

std::string TomlTable::text(std::string_view key) {
    if (!has(key)) {
        take(key, true);
        return "";
    }
    std::string text = text_or(key, "x");
    if (text.find_first_not_of(' ') == std::string::npos)
        fault(FaultCode::bad_value, key, full(key) + " is " + in_quotes(text) + ", must not be empty",
              "write what stands on the certificate");
    return text;
}

std::string TomlTable::text_or(std::string_view key, std::string absent) {
    const TomlValue* value = take(key, false, TomlKind::text);
    if (value == nullptr) return absent;
    if (value->text.size() > text_bytes_max)
        fault(FaultCode::bad_value, key,
              full(key) + " has " + std::to_string(value->text.size()) + " bytes, at most " +
                  std::to_string(text_bytes_max) + " fit on a certificate",
              "shorten it");
    else if (visible(value->text) != value->text)
        fault(FaultCode::bad_value, key,
              full(key) + " is " + in_quotes(value->text) + ", must be one line without control characters",
              "separate parts by commas");
    return value->text;
}

std::string TomlTable::date(std::string_view key) {
    const TomlValue* value = take(key, false);
    if (value == nullptr) return "";
    if ((value->kind != TomlKind::date && value->kind != TomlKind::text) || !is_iso_date(value->text)) {
        fault(FaultCode::bad_value, key, full(key) + " is " + shown(*value) + ", which is not a date",
              "write year, month, day, for example 2025-03-31");
        return "";
    }
    return value->text;
}

std::size_t TomlTable::choice(std::string_view key, std::span<const std::string_view> names,
                              std::optional<std::size_t> absent) {
    const TomlValue* value = take(key, !absent, TomlKind::text);
    if (value == nullptr) return absent.value_or(0);
    const auto found = std::find(names.begin(), names.end(), value->text);
    if (found != names.end()) return static_cast<std::size_t>(found - names.begin());
    std::string known;
    for (const std::string_view name : names) add_part(known, in_quotes(name), ", ");
    fault(FaultCode::bad_value, key, full(key) + " is " + shown(*value) + ", must be one of " + known, "");
    return absent.value_or(0);
}

std::vector<std::string> TomlTable::texts(std::string_view key) {
    std::vector<std::string> out;
    const TomlValue* value = take(key, true, TomlKind::list);
    if (value == nullptr) return out;
    for (const TomlValue& item : value->list) {
        if (item.kind == TomlKind::text)
            out.push_back(item.text);
        else
            faults_->add(FaultCode::bad_value, item.at,
                         full(key) + " holds " + shown(item) + ", must hold texts", "put it in quotes");
    }
    return out;
}

TomlTable TomlTable::table(std::string_view key) {
    const TomlValue* value = take(key, false, TomlKind::table);
    return {value, value == nullptr ? at_ : value->at, full(key), *faults_, "[" + full(key) + "]"};
}

TomlTable TomlTable::required_table(std::string_view key) {
    const TomlValue* value = take(key, false, TomlKind::table);
    if (value == nullptr && !has(key))
        faults_->add(FaultCode::missing_field, at_, "[" + full(key) + "] is not given",
                     "add this section; templates/README.md shows it");
    return {value, value == nullptr ? at_ : value->at, full(key), *faults_, "[" + full(key) + "]"};
}

std::vector<TomlTable> TomlTable::tables(std::string_view key) {
    std::vector<TomlTable> out;
    const TomlValue* value = take(key, false);
    if (value == nullptr) return out;
    const bool all_tables = value->kind == TomlKind::list &&
                            std::all_of(value->list.begin(), value->list.end(),
                                        [](const TomlValue& item) { return item.kind == TomlKind::table; });
    if (!all_tables) {
        fault(FaultCode::bad_value, key, full(key) + " is " + shown(*value) + ", must be a list of tables",
              "write each one under its own [[" + full(key) + "]]");
        return out;
    }
    for (std::size_t i = 0; i < value->list.size(); ++i)
        out.emplace_back(&value->list[i], value->list[i].at, full(key), *faults_, "[[" + full(key) + "]]");
    return out;
}

void TomlTable::finish() {
    if (value_ == nullptr) return;
    for (const TomlEntry& entry : value_->table) {
        if (std::find(asked_.begin(), asked_.end(), entry.key) != asked_.end()) continue;
        const std::string meant = nearest(entry.key, asked_);
        faults_->add(FaultCode::unknown_field, entry.key_at,
                     in_quotes(full(entry.key)) + " is not known here",
                     meant.empty() ? "remove it, or see templates/README.md for what may stand here"
                                   : "did you mean " + meant + "?");
    }
}

}  // namespace tipwright::bench
