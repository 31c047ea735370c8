#include "bench/descriptions/toml_tree.hpp"

#include <toml++/toml.h>

#include <algorithm>
#include <cstdio>
#include <sstream>

#include "report/files/toml_depth.hpp"

namespace tipwright::bench {
namespace {

TextPosition position(const toml::source_position& at) {
    return {at.line, at.column};
}

std::string iso(const toml::date& date) {
    char buffer[32];
    std::snprintf(buffer, sizeof buffer, "%04u-%02u-%02u", static_cast<unsigned>(date.year),
                  static_cast<unsigned>(date.month), static_cast<unsigned>(date.day));
    return buffer;
}

TomlValue converted(const toml::node& node) {
    TomlValue value;
    value.at = position(node.source().begin);
    value.end = position(node.source().end);
    if (const auto* table = node.as_table()) {
        value.kind = TomlKind::table;
        for (const auto& [key, child] : *table)
            value.table.push_back({std::string(key.str()), position(key.source().begin), converted(child)});
    } else if (const auto* array = node.as_array()) {
        value.kind = TomlKind::list;
        for (const auto& child : *array) value.list.push_back(converted(child));
    } else if (const auto* text = node.as_string()) {
        value.kind = TomlKind::text;
        value.text = text->get();
    } else if (const auto* whole = node.as_integer()) {
        value.kind = TomlKind::whole_number;
        value.whole_number = whole->get();
        value.number = static_cast<double>(whole->get());
    } else if (const auto* number = node.as_floating_point()) {
        value.kind = TomlKind::number;
        value.number = number->get();
    } else if (const auto* flag = node.as_boolean()) {
        value.kind = TomlKind::flag;
        value.flag = flag->get();
    } else if (const auto* date = node.as_date()) {
        value.kind = TomlKind::date;
        value.text = iso(date->get());
    } else {
        value.kind = TomlKind::time;
    }
    return value;
}

Fault fault_of(const toml::parse_error& error, const std::string& file) {
    std::string description(error.description());
    const TextPosition at = position(error.source().begin);
    // "...: cannot redefine existing floating-point value 'nominal_tip_mm'"
    if (description.find("redefine") != std::string::npos) {
        const auto open = description.find('\'');
        const auto close = description.rfind('\'');
        const std::string key =
            open < close ? in_quotes(description.substr(open + 1, close - open - 1)) : std::string("a name");
        return {FaultCode::duplicate, key + " is given twice", where(file, at), "keep one of them"};
    }
    return {FaultCode::syntax, "this is not TOML: " + description, where(file, at),
            "compare with a file in templates/"};
}

}  // namespace

std::string_view name_of(TomlKind kind) {
    switch (kind) {
        case TomlKind::text:
            return "a text";
        case TomlKind::whole_number:
            return "a whole number";
        case TomlKind::number:
            return "a number";
        case TomlKind::flag:
            return "true or false";
        case TomlKind::date:
            return "a date";
        case TomlKind::time:
            return "a time";
        case TomlKind::list:
            return "a list";
        case TomlKind::table:
            return "a table";
    }
    return "";
}

const TomlEntry* TomlValue::find(std::string_view key) const {
    for (const TomlEntry& entry : table)
        if (entry.key == key) return &entry;
    return nullptr;
}

namespace {

// The first of all keys, of every description alike: the version of its form. Nobody else needs to know it.
Outcome take_version(TomlValue& root, const std::string& name) {
    const auto entry = std::find_if(root.table.begin(), root.table.end(),
                                    [](const TomlEntry& one) { return one.key == "version"; });
    if (entry == root.table.end()) return Done{};
    const std::string where =
        name + ":" + std::to_string(entry->value.at.line) + ":" + std::to_string(entry->value.at.column);
    if (entry->value.kind != TomlKind::text)
        return Fault{FaultCode::bad_value, "version must be a text", where, "write version = \"1.0\""};
    const auto version = readable_version(entry->value.text, newest_version, "description", where);
    if (!version) return version.fault();
    root.table.erase(entry);
    return Done{};
}

}  // namespace

Result<TomlValue> parse_toml(const DescriptionText& description) {
    if (description.text.size() > description_bytes_max)
        return Fault{FaultCode::file_too_large,
                     "the file has " + std::to_string(description.text.size()) + " bytes, at most " +
                         std::to_string(description_bytes_max) + " are read",
                     description.name, "descriptions are short; check that this is the right file"};
    if (auto shallow = report::check_toml_depth(description.text, description.name); !shallow)
        return shallow.fault();
    try {
        TomlValue root = converted(toml::parse(std::string_view(description.text)));
        if (Outcome readable = take_version(root, description.name); !readable) return readable.fault();
        return root;
    } catch (const toml::parse_error& error) {
        return fault_of(error, description.name);
    }
}

}  // namespace tipwright::bench
