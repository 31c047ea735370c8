#include "bench/page/views/page_words.hpp"

#include <toml++/toml.h>

#include <set>
#include <stdexcept>

#include "calib/base/rounding.hpp"
#include "report/files/files.hpp"
#include "report/files/toml_depth.hpp"

namespace tipwright::page {

namespace {

constexpr std::size_t most_bytes = 256u << 10;
using Texts = std::map<std::string, std::string, std::less<>>;

Result<Texts> read_texts(const std::filesystem::path& file) {
    const auto text = read_file(file, most_bytes, "see templates/page/en.toml");
    if (!text) return text.fault();
    if (auto shallow = report::check_toml_depth(*text, file.string()); !shallow) return shallow.fault();
    Texts out;
    try {
        for (const auto& [table_key, table_node] : toml::parse(*text, file.string())) {
            const toml::table* table = table_node.as_table();
            if (!table)
                return Fault{FaultCode::unknown_field,
                             in_quotes(table_key.str()) + " stands outside any table", file.string(),
                             "write it as in the English file"};
            for (const auto& [key, node] : *table) {
                const auto value = node.value<std::string>();
                const std::string name = std::string(table_key.str()) + "." + std::string(key.str());
                if (!value)
                    return Fault{FaultCode::bad_value, in_quotes(name) + " is not a text", file.string(),
                                 "write it in quotes"};
                out[name] = *value;
            }
        }
    } catch (const toml::parse_error& error) {
        const auto& at = error.source().begin;
        return Fault{FaultCode::syntax, std::string(error.description()),
                     file.string() + ":" + std::to_string(at.line) + ":" + std::to_string(at.column),
                     "correct the file"};
    }
    return out;
}

std::set<std::string> placeholders(const std::string& text) {
    std::set<std::string> out;
    for (std::size_t open = text.find('{'); open != std::string::npos; open = text.find('{', open + 1)) {
        const std::size_t close = text.find('}', open);
        if (close == std::string::npos) break;
        out.insert(text.substr(open + 1, close - open - 1));
    }
    return out;
}

Outcome same_texts(const Texts& english, const Texts& other, const std::filesystem::path& file) {
    for (const auto& [key, text] : english) {
        const auto found = other.find(key);
        if (found == other.end())
            return Fault{FaultCode::missing_field, "text " + in_quotes(key) + " is missing", file.string(),
                         "write it as in the English file"};
        if (placeholders(found->second) != placeholders(text))
            return Fault{FaultCode::bad_value, "text " + in_quotes(key) + " has other placeholders",
                         file.string(), "use those of the English file"};
    }
    for (const auto& [key, text] : other)
        if (!english.contains(key))
            return Fault{FaultCode::unknown_field, "no text is called " + in_quotes(key), file.string(),
                         "remove it, or write it as in the English file"};
    return Done{};
}

}  // namespace

const std::string* PageWords::find(std::string_view key) const {
    const auto found = texts_.find(key);
    return found == texts_.end() ? nullptr : &found->second;
}

const std::string& PageWords::text(std::string_view key) const {
    const auto found = texts_.find(key);
    if (found == texts_.end()) throw std::out_of_range("no text is called " + std::string(key));
    return found->second;
}

std::string PageWords::filled(std::string_view key,
                              std::span<const std::pair<std::string_view, std::string>> fillings) const {
    const std::string& pattern = text(key);
    std::string out;
    for (std::size_t at = 0; at < pattern.size();) {
        const std::size_t open = pattern.find('{', at);
        const std::size_t close = open == std::string::npos ? open : pattern.find('}', open);
        if (close == std::string::npos) {
            out += pattern.substr(at);
            break;
        }
        out += pattern.substr(at, open - at);
        const std::string name = pattern.substr(open + 1, close - open - 1);
        bool filled = false;
        for (const auto& [known, value] : fillings) {
            if (known != name) continue;
            out += value;
            filled = true;
        }
        if (!filled) throw std::out_of_range("text " + std::string(key) + " was given no value for " + name);
        at = close + 1;
    }
    return out;
}

std::string PageWords::number(double value, int decimals) const {
    return certificate_.number(calib::fixed(value, decimals));
}

std::string PageWords::with_U(double value, double U) const {
    const auto rounded = calib::round_with_uncertainty(value, U);
    return certificate_.number(rounded.value) + " ± " + certificate_.number(rounded.uncertainty);
}

std::string PageWords::moment(const std::string& utc) const {
    const std::string local = local_ ? local_(utc) : utc;
    // Date, hour and minute, name of the zone.
    if (local == utc || local.size() < 21) return certificate_.moment(utc);
    return certificate_.date(local.substr(0, 10)) + ", " + local.substr(11, 5) + local.substr(19);
}

std::string PageWords::intensity(double mm_h, int decimals) const {
    const std::string other = other_unit_ ? other_unit_(mm_h) : "";
    if (other.empty()) return number(mm_h, decimals);
    std::string first = other;
    if (const std::size_t point = first.find('.'); point != std::string::npos)
        first[point] = certificate_.decimal_sign();
    return first + " · " + number(mm_h, decimals);
}

std::string PageWords::duration(double seconds) const {
    const auto total = static_cast<long>(seconds > 0 && seconds < 1e9 ? seconds + 0.5 : 0);
    const auto two = [](long value) { return (value < 10 ? "0" : "") + std::to_string(value); };
    if (total >= 3600)
        return text("format.hours", {{"h", std::to_string(total / 3600)}, {"min", two(total / 60 % 60)}});
    return text("format.minutes", {{"min", std::to_string(total / 60)}, {"s", two(total % 60)}});
}

Result<std::vector<PageWords>> load_page_words(const std::filesystem::path& templates) {
    std::vector<PageWords> out;
    for (const std::string_view language : page_languages) {
        const std::string name = std::string(language) + ".toml";
        const std::filesystem::path file = templates / "page" / name;
        auto texts = read_texts(file);
        if (!texts) return texts.fault();
        if (!out.empty())
            if (auto same = same_texts(out.front().texts_, *texts, file); !same) return same.fault();
        auto certificate = report::certificate::load_words(templates / "certificate" / name);
        if (!certificate) return certificate.fault();
        PageWords words;
        words.language_ = language;
        words.texts_ = std::move(*texts);
        words.certificate_ = std::move(*certificate);
        out.push_back(std::move(words));
    }
    return out;
}

}  // namespace tipwright::page
