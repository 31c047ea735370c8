#include "bench/instruments/line_ascii/protocol.hpp"

#include <algorithm>
#include <cmath>

namespace tipwright::bench {

namespace {

using Values = std::array<FieldValue, pattern_fields_max>;

struct MassUnit {
    std::string_view symbol;
    int decimals_to_grams;  // a number with n decimals in this unit has n plus this many in grams
};

// Decimals as displayed go with the unit: 0.0123 kg shows tenths of a gram.
constexpr MassUnit mass_units[] = {{"g", 0}, {"kg", -3}, {"mg", 3}};

// What air and water on earth can be: anything else is a misread line.
struct ClimateRange {
    std::string_view field;
    double low;
    double high;
};
constexpr ClimateRange climate_ranges[] = {{"water_temperature_C", -10, 100},
                                           {"air_temperature_C", -60, 80},
                                           {"air_pressure_hPa", 300, 1200},
                                           {"air_pressure_kPa", 30, 120},
                                           {"relative_humidity_percent", 0, 105}};

bool is_line_end(std::byte byte) {
    return byte == std::byte{'\r'} || byte == std::byte{'\n'};
}

const MassUnit* unit_named(std::string_view symbol) {
    for (const MassUnit& unit : mass_units) {
        if (unit.symbol == symbol) return &unit;
    }
    return nullptr;
}

bool fill_mass(const Pattern& pattern, const Values& values, WeightReading& reading) {
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
    reading.mass_g = scaled(number->number.digits, reading.decimals);
    reading.text.assign(number->text);
    reading.text += ' ';
    reading.text += unit->symbol;
    return true;
}

}  // namespace

LineFrame next_line(std::span<const std::byte> bytes) {
    LineFrame frame;
    std::size_t begin = 0;
    while (begin < bytes.size() && is_line_end(bytes[begin])) ++begin;
    frame.consumed = begin;
    const std::size_t limit = std::min(bytes.size(), begin + line_ascii_limit + 1);
    std::size_t end = begin;
    while (end < limit && !is_line_end(bytes[end])) ++end;
    if (end == limit) {
        if (end - begin > line_ascii_limit) {
            frame.kind = LineFrame::Kind::too_long;
            frame.consumed = end;
        }
        return frame;
    }
    frame.kind = LineFrame::Kind::line;
    frame.consumed = end + 1;
    frame.text = {reinterpret_cast<const char*>(bytes.data()) + begin, end - begin};
    return frame;
}

WeightLine read_weight(const std::vector<WeightPattern>& patterns, std::string_view line,
                       WeightReading& reading) {
    Values values;
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
    Values values;
    for (const Pattern& pattern : patterns) {
        if (!pattern.match(line, values)) continue;
        bool possible = true;
        for (std::size_t i = 0; i < pattern.fields().size(); ++i) {
            const std::string_view name = pattern.fields()[i];
            const double value = values[i].number.value;
            if (name == "water_temperature_C") reading.water_temperature_C = value;
            if (name == "air_temperature_C") reading.air_temperature_C = value;
            if (name == "air_pressure_hPa") reading.air_pressure_hPa = value;
            if (name == "air_pressure_kPa") reading.air_pressure_hPa = value * 10;
            if (name == "relative_humidity_percent") reading.relative_humidity_percent = value;
            for (const ClimateRange& range : climate_ranges) {
                if (range.field == name && !(value >= range.low && value <= range.high)) possible = false;
            }
        }
        if (possible) return true;
    }
    return false;
}

bool is_answer(const LineCommand& command, std::string_view line,
               std::span<const std::pair<std::string_view, double>> sent) {
    Values values;
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
    Values values;
    for (const Pattern& pattern : patterns) {
        if (!pattern.match(line, values)) continue;
        return std::string(pattern.fields().empty() ? line : values[0].text);
    }
    return std::nullopt;
}

}  // namespace tipwright::bench
