#include "report/register/life_words.hpp"

#include <algorithm>

#include "calib/base/joined.hpp"
#include "calib/base/rounding.hpp"

namespace tipwright::report {
namespace {

std::string filling(const LifePart& part, std::string_view name) {
    for (const LifeNumber& number : part.numbers)
        if (number.name == name)
            return std::string(number.with_sign && number.value > 0 ? "+" : "") +
                   calib::fixed(number.value, number.decimals);
    for (const auto& [known, value] : part.names)
        if (known == name) return value;
    return {};
}

std::string sentence(const LifePart& part) {
    const auto known = std::find_if(life_sentences.begin(), life_sentences.end(),
                                    [&](const auto& one) { return one.first == part.id; });
    if (known == life_sentences.end()) return part.text;
    std::string out;
    std::string_view rest = known->second;
    for (std::size_t open; (open = rest.find('{')) != std::string_view::npos;) {
        const std::size_t close = rest.find('}', open);
        out += rest.substr(0, open);
        out += filling(part, rest.substr(open + 1, close - open - 1));
        rest.remove_prefix(close + 1);
    }
    out += rest;
    return out;
}

}  // namespace

std::string_view before_part(const LifePart& part) {
    return part.goes_on ? ", " : "; ";
}

std::string life_detail(const LifeEvent& event) {
    std::string out;
    for (const LifePart& part : event.parts) add_part(out, sentence(part), before_part(part));
    return out;
}

Table life_table(const Life& life) {
    Table out{{"serial", "model", "date", "event", "certificate", "detail"}, {}, false};
    for (const LifeEvent& event : life)
        out.rows.push_back({event.serial, event.model, event.on, event.what,
                            event.certificate.empty() ? Table::Value() : Table::Value(event.certificate),
                            life_detail(event)});
    return out;
}

}  // namespace tipwright::report
