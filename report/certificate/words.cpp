#include "report/certificate/words.hpp"

#include <toml++/toml.h>

#include <algorithm>

#include "calib/base/dates.hpp"
#include "report/files/files.hpp"
#include "report/files/toml_depth.hpp"

namespace tipwright::report::certificate {

namespace {

constexpr std::size_t max_words_bytes = 256u << 10;
constexpr std::string_view free_tables[] = {"translated", "role", "component"};

// What stands between braces, in order. A brace without its partner is plain text.
template <class Use>
void each_placeholder(std::string_view text, Use use) {
    for (std::size_t open = text.find('{'); open != std::string_view::npos; open = text.find('{', open + 1)) {
        const std::size_t close = text.find('}', open);
        if (close == std::string_view::npos) return;
        use(open, close, text.substr(open + 1, close - open - 1));
    }
}

bool listed(std::string_view names, std::string_view name) {
    for (std::size_t start = 0; start <= names.size();) {
        const std::size_t end = std::min(names.find(' ', start), names.size());
        if (names.substr(start, end - start) == name) return !name.empty();
        start = end + 1;
    }
    return false;
}

std::string place(const std::string& name, const toml::node& node) {
    return name + ":" + std::to_string(node.source().begin.line) + ":" +
           std::to_string(node.source().begin.column);
}

bool is_free(std::string_view table) {
    return std::find(std::begin(free_tables), std::end(free_tables), table) != std::end(free_tables);
}

const WordKey* find_key(std::string_view key) {
    const auto keys = word_keys();
    const auto found = std::find_if(keys.begin(), keys.end(), [&](const WordKey& k) { return k.key == key; });
    return found == keys.end() ? nullptr : &*found;
}

std::optional<Fault> check_text(const std::string& name, const toml::node& node, std::string_view key,
                                std::string_view text) {
    const WordKey* known = find_key(key);
    if (!known)
        return Fault{FaultCode::unknown_field, "no text is called " + in_quotes(key), place(name, node),
                     "remove it, or write it as in the English file"};
    std::optional<Fault> fault;
    each_placeholder(text, [&](std::size_t, std::size_t, std::string_view placeholder) {
        if (!fault && !listed(known->placeholders, placeholder))
            fault = Fault{FaultCode::bad_value,
                          "placeholder " + in_quotes(placeholder) + " has no value here", place(name, node),
                          known->placeholders.empty() ? "this text has no placeholders"
                                                      : "use only: " + std::string(known->placeholders)};
    });
    if (!fault && key == "format.decimal_sign" && text != "." && text != ",")
        fault = Fault{FaultCode::bad_value, in_quotes(text) + " is not a decimal sign", place(name, node),
                      "give . or ,"};
    return fault;
}

Result<toml::table> parse_toml(std::string_view text, const std::string& name) {
    if (auto shallow = check_toml_depth(text, name); !shallow) return shallow.fault();
    try {
        return toml::parse(text, name);
    } catch (const toml::parse_error& error) {
        const auto& at = error.source().begin;
        return Fault{FaultCode::syntax, std::string(error.description()),
                     name + ":" + std::to_string(at.line) + ":" + std::to_string(at.column),
                     "correct the file"};
    }
}

}  // namespace

const std::string& Words::text(std::string_view key) const {
    const auto found = texts_.find(key);
    if (found == texts_.end()) throw std::out_of_range("no text is called " + std::string(key));
    return found->second;
}

namespace {

template <class List>
std::string fill(const std::string& pattern, std::string_view key, const List& fillings) {
    std::string out;
    std::size_t done = 0;
    each_placeholder(pattern, [&](std::size_t open, std::size_t close, std::string_view placeholder) {
        for (const auto& [name, value] : fillings) {
            if (name != placeholder) continue;
            out.append(pattern, done, open - done);
            out += value;
            done = close + 1;
            return;
        }
        throw std::out_of_range("text " + std::string(key) + " was given no value for " +
                                std::string(placeholder));
    });
    out.append(pattern, done, std::string::npos);
    return out;
}

}  // namespace

std::string Words::text(std::string_view key, Fillings fillings) const {
    return fill(text(key), key, fillings);
}

std::string Words::filled(std::string_view key, const FillingList& fillings) const {
    return fill(text(key), key, fillings);
}

std::string Words::named(std::string_view table, std::string_view key, const std::string& fallback) const {
    const auto found = texts_.find(std::string(table) + "." + std::string(key));
    return found == texts_.end() ? fallback : found->second;
}

std::string Words::number(std::string_view plain) const {
    std::string out;
    for (char c : plain) {
        if (c == '-')
            out += "−";
        else if (c == '.')
            out += decimal_sign();
        else
            out += c;
    }
    return out;
}

std::string Words::date(const std::string& iso) const {
    const auto day = iso_date(iso);
    if (!day) return iso;
    return text("format.date", {{"day", std::to_string(static_cast<unsigned>(day->day()))},
                                {"month", months_[static_cast<unsigned>(day->month()) - 1]},
                                {"year", iso.substr(0, 4)}});
}

std::string Words::short_date(const std::string& iso) const {
    if (!is_iso_date(iso)) return iso;
    return text("format.short_date",
                {{"day", iso.substr(8, 2)}, {"month", iso.substr(5, 2)}, {"year", iso.substr(0, 4)}});
}

std::string Words::moment(const std::string& iso) const {
    if (iso.size() == 10) return date(iso);  // a day without an hour
    if (iso.size() < 16 || iso[10] != 'T' || !is_iso_date(std::string_view(iso).substr(0, 10))) return iso;
    return text("format.moment", {{"date", date(iso.substr(0, 10))}, {"time", iso.substr(11, 5)}});
}

std::string Words::list(const std::vector<std::string>& items) const {
    std::string out;
    for (std::size_t i = 0; i < items.size(); ++i) {
        if (i > 0) out += i + 1 == items.size() ? text("format.list_and") : text("format.list_comma");
        out += items[i];
    }
    return out;
}

std::string without_full_stop(std::string text) {
    if (text.ends_with('.')) text.pop_back();
    return text;
}

Result<Words> parse_words(std::string_view text, const std::string& name) {
    if (text.size() > max_words_bytes)
        return Fault{FaultCode::file_too_large, std::to_string(text.size()) + " bytes", name,
                     "a words file has at most " + std::to_string(max_words_bytes) + " bytes"};
    const auto document = parse_toml(text, name);
    if (!document) return document.fault();
    Words words;
    for (const auto& [table_key, table_node] : *document) {
        const toml::table* table = table_node.as_table();
        if (!table)
            return Fault{FaultCode::unknown_field, in_quotes(table_key.str()) + " stands outside any table",
                         place(name, table_node), "write it as in the English file"};
        for (const auto& [entry_key, node] : *table) {
            const std::string key = std::string(table_key.str()) + "." + std::string(entry_key.str());
            if (key == "format.months") continue;
            const auto value = node.value<std::string>();
            if (!value)
                return Fault{FaultCode::bad_value, in_quotes(key) + " is not a text", place(name, node),
                             "write it in quotes"};
            if (!is_free(table_key.str()))
                if (auto fault = check_text(name, node, key, *value)) return *fault;
            words.texts_[key] = *value;
        }
    }
    for (const WordKey& key : word_keys())
        if (words.texts_.find(key.key) == words.texts_.end())
            return Fault{FaultCode::missing_field, "text " + in_quotes(key.key) + " is missing", name,
                         "write it as in the English file"};
    const toml::array* months = (*document)["format"]["months"].as_array();
    if (!months || months->size() != 12)
        return Fault{FaultCode::missing_field, "format.months must name twelve months", name,
                     "write it as in the English file"};
    for (const toml::node& month : *months) words.months_.push_back(month.value_or(std::string("?")));
    return words;
}

Result<Words> load_words(const std::filesystem::path& file) {
    const auto text = read_file(file, max_words_bytes, "name a file like templates/certificate/en.toml");
    if (!text) return text.fault();
    return parse_words(*text, file.string());
}

}  // namespace tipwright::report::certificate
