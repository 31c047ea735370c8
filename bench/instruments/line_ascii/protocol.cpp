#include "bench/instruments/line_ascii/protocol.hpp"

#include <cmath>

#include "bench/instruments/plausible.hpp"

namespace tipwright::bench {

namespace {

struct MassUnit {
    std::string_view symbol;
    int decimals_to_grams;  // a number with n decimals in this unit has n plus this many in grams
};

// Decimals as displayed go with the unit: 0.0123 kg shows tenths of a gram.
constexpr MassUnit mass_units[] = {{"g", 0}, {"kg", -3}, {"mg", 3}};

// No balance shows more, and scaled() takes no more.
constexpr int decimals_max = 15;

const MassUnit* unit_named(std::string_view symbol) {
    for (const MassUnit& unit : mass_units) {
        if (unit.symbol == symbol) return &unit;
    }
    return nullptr;
}

bool fill_mass(const Pattern& pattern, const FieldValues& values, WeightReading& reading) {
    const FieldValue* number = nullptr;
    const MassUnit* unit = nullptr;
    for (std::size_t i = 0; i < pattern.fields().size(); ++i) {
        const std::string_view name = pattern.fields()[i];
        if (name == "unit") {
            unit = unit_named(values[i].text);
            if (!unit) return false;
        } else if (name.starts_with("mass")) {
            number = &values[i];
            if (name != "mass") unit = unit_named(name.substr(5));
        }
    }
    if (!number || !unit) return false;
    reading.decimals = number->number.decimals + unit->decimals_to_grams;
    if (reading.decimals > decimals_max) return false;
    // A shown "-0.00" is no negative mass.
    reading.mass_g = number->number.digits == 0     ? 0
                     : unit->decimals_to_grams == 0 ? number->number.value
                                                    : scaled(number->number.digits, reading.decimals);
    reading.text.assign(number->text);
    reading.text += ' ';
    reading.text += unit->symbol;
    return true;
}

}  // namespace

WeightLine read_weight(const std::vector<WeightPattern>& patterns, std::string_view line,
                       WeightReading& reading) {
    FieldValues values;
    for (const WeightPattern& weight : patterns) {
        if (!weight.pattern.match(line, values)) continue;
        if (weight.overload) return WeightLine::overload;
        if (!fill_mass(weight.pattern, values, reading)) continue;
        reading.stable = weight.stable;
        return WeightLine::reading;
    }
    return WeightLine::none;
}

bool read_climate(const std::vector<Pattern>& patterns, std::string_view line, ClimateReading& reading) {
    FieldValues values;
    for (const Pattern& pattern : patterns) {
        if (!pattern.match(line, values)) continue;
        bool possible = true;
        for (std::size_t i = 0; i < pattern.fields().size(); ++i) {
            if (pattern.fields()[i] == "text") continue;
            possible = set_climate(reading, pattern.fields()[i], values[i].number.value) && possible;
        }
        if (possible) return true;
    }
    return false;
}

bool is_answer(const LineCommand& command, std::string_view line,
               std::span<const std::pair<std::string_view, double>> sent) {
    FieldValues values;
    for (const Pattern& pattern : command.answers) {
        if (!pattern.match(line, values)) continue;
        bool agrees = true;
        for (std::size_t i = 0; i < pattern.fields().size(); ++i) {
            for (const auto& [name, value] : sent) {
                if (name != pattern.fields()[i]) continue;
                // What came back may be rounded where it was printed, not more.
                const double step = std::pow(10.0, -values[i].number.decimals);
                if (!(std::abs(values[i].number.value - value) <= 0.501 * step)) agrees = false;
            }
        }
        if (agrees) return true;
    }
    return false;
}

std::optional<std::string> read_refusal(const std::vector<Pattern>& patterns, std::string_view line) {
    FieldValues values;
    for (const Pattern& pattern : patterns) {
        if (!pattern.match(line, values)) continue;
        return std::string(pattern.fields().empty() ? line : values[0].text);
    }
    return std::nullopt;
}

}  // namespace tipwright::bench
