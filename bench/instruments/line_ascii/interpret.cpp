#include "bench/instruments/interpret.hpp"

#include <algorithm>
#include <utility>

#include "bench/instruments/line_ascii/instruments.hpp"
#include "bench/instruments/line_interpreter.hpp"

namespace tipwright::bench {

namespace {

std::string fields_text(const Pattern& pattern, const FieldValues& values) {
    std::string text;
    for (std::size_t i = 0; i < pattern.fields().size(); ++i) {
        text += text.empty() ? "" : ", ";
        if (pattern.fields()[i] != "text") text += std::string(pattern.fields()[i]) + " ";
        text += values[i].text;
    }
    return text;
}

class LineAsciiInterpreter final : public LineInterpreter {
public:
    LineAsciiInterpreter(LineProfilePtr profile, Role role) : profile_(std::move(profile)), role_(role) {}

private:
    struct Named {
        const char* name;
        const LineCommand* command;
    };
    std::array<Named, 7> commands() const {
        return {{{"identify", &profile_->identify},
                 {"read", &profile_->read},
                 {"tare", &profile_->tare},
                 {"stop", &profile_->stop},
                 {"set_flow", &profile_->set_flow},
                 {"drain_open", &profile_->drain_open},
                 {"drain_close", &profile_->drain_close}}};
    }

    Meaning line_sent(std::string_view line) override {
        FieldValues values;
        for (const Named& named : commands()) {
            if (!named.command->send || !named.command->send->match(line, values)) continue;
            const std::string fields = fields_text(*named.command->send, values);
            return {true, std::string("command ") + named.name + (fields.empty() ? "" : ": " + fields), {}};
        }
        return {false, "no command of the profile", {}};
    }

    Meaning line_came(std::string_view line) override {
        if (auto meaning = reading(line)) return *meaning;
        FieldValues values;
        for (const Named& named : commands()) {
            for (const Pattern& pattern : named.command->answers) {
                if (!pattern.match(line, values)) continue;
                const std::string fields = fields_text(pattern, values);
                return {
                    true, std::string("answer to ") + named.name + (fields.empty() ? "" : ": " + fields), {}};
            }
        }
        if (const auto refusal = read_refusal(profile_->refusals, line))
            return {true, "refusal: " + *refusal, {}};
        return {false, in_quotes(line) + " matches no pattern", hints(line)};
    }

    std::optional<Meaning> reading(std::string_view line) const {
        if (role_ == Role::balance) {
            WeightReading weight;
            switch (read_weight(profile_->weights, line, weight)) {
                case WeightLine::none:
                    return std::nullopt;
                case WeightLine::overload:
                    return Meaning{true, "overload", {}};
                case WeightLine::reading:
                    return Meaning{
                        true,
                        decimal_text(weight.mass_g, std::max(weight.decimals, 0)) + " g, " +
                            (weight.stable ? "stable" : "not stable") + ", shown to " +
                            decimal_text(scaled(1, weight.decimals), std::max(weight.decimals, 0)) + " g",
                        {}};
            }
        }
        ClimateReading climate;
        if (role_ != Role::climate || !read_climate(profile_->climates, line, climate)) return std::nullopt;
        return Meaning{true,
                       "water " + decimal_text(climate.water_temperature_C, 2) + " degC, air " +
                           decimal_text(climate.air_temperature_C, 2) + " degC, " +
                           decimal_text(climate.air_pressure_hPa, 1) + " hPa, " +
                           decimal_text(climate.relative_humidity_percent, 1) + " %",
                       {}};
    }

    // A line can match a pattern of masses and still not be believed: its unit is none that is known. The
    // pattern that fitted furthest stands first.
    std::vector<std::string> hints(std::string_view line) const {
        std::vector<std::pair<std::size_t, std::string>> misses;
        const auto add = [&](const Pattern& pattern) {
            const auto miss = pattern.mismatch(line);
            misses.emplace_back(miss ? miss->at : line.size(),
                                pattern.notation() + "   " +
                                    (miss ? mismatch_text(line, miss->at, miss->wanted)
                                          : "fits, but its unit or its values are impossible"));
        };
        for (const WeightPattern& weight : profile_->weights) add(weight.pattern);
        for (const Pattern& pattern : profile_->climates) add(pattern);
        for (const Named& named : commands())
            for (const Pattern& pattern : named.command->answers) add(pattern);
        for (const Pattern& pattern : profile_->refusals) add(pattern);
        std::stable_sort(misses.begin(), misses.end(),
                         [](const auto& a, const auto& b) { return a.first > b.first; });
        std::vector<std::string> hints;
        hints.reserve(misses.size());
        for (auto& miss : misses) hints.push_back(std::move(miss.second));
        return hints;
    }

    LineProfilePtr profile_;
    Role role_;
};

}  // namespace

std::unique_ptr<Interpreter> make_line_ascii_interpreter(LineProfilePtr profile, Role role) {
    return std::make_unique<LineAsciiInterpreter>(std::move(profile), role);
}

}  // namespace tipwright::bench
