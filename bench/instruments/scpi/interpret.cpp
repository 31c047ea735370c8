#include <cstdio>

#include "bench/instruments/line_interpreter.hpp"
#include "bench/instruments/scpi/instruments.hpp"
#include "bench/instruments/scpi/protocol.hpp"

namespace tipwright::bench {

namespace {

class ScpiInterpreter final : public LineInterpreter {
public:
    ScpiInterpreter(ScpiProfilePtr profile, Role role) : profile_(std::move(profile)), role_(role) {}

private:
    Meaning line_sent(std::string_view line) override {
        asked_ = line;
        return {true, line.ends_with('?') ? "query" : "command", {}};
    }

    Meaning line_came(std::string_view line) override {
        if (asked_.ends_with("*OPC?"))
            return {line == "1", line == "1" ? "done" : "*OPC? is answered by 1 when done", {}};
        if (asked_ == "SYST:ERR?") {
            const auto error = read_scpi_error(line);
            if (!error)
                return {
                    false, in_quotes(line) + " is not an answer to SYST:ERR?", {"wants: number,\"words\""}};
            return {
                true,
                error->code == 0 ? "no error" : "error " + std::to_string(error->code) + ": " + error->text,
                {}};
        }
        if (asked_ == "*IDN?") return {true, "identity", {}};
        if (!profile_->read || asked_ != profile_->read->print({}))
            return {false, "answers nothing the profile asks", {}};
        return reading(line);
    }

    Meaning reading(std::string_view line) const {
        const auto texts = split_scpi(line);
        if (texts.size() != profile_->elements.size()) {
            return {false,
                    in_quotes(line) + " does not fit",
                    {"the profile's values are " + std::to_string(profile_->elements.size()) +
                     ", the line has " + std::to_string(texts.size())}};
        }
        Meaning meaning{true, "", {}};
        for (std::size_t i = 0; i < texts.size(); ++i) {
            const std::string& field = profile_->elements[i].field;
            if (field == "_") continue;
            const auto number = read_scpi_number(texts[i]);
            if (!number) {
                meaning.understood = false;
                meaning.hints.push_back(field + " is not an NR1, NR2 or NR3 number, the line has " +
                                        in_quotes(texts[i]));
                continue;
            }
            if (!meaning.text.empty()) meaning.text += ", ";
            meaning.text += field + " " + value_text(field, *number);
        }
        return meaning;
    }

    std::string value_text(const std::string& field, const ScpiNumber& number) const {
        if (number.kind == ScpiNumber::Kind::infinite) return "overload";
        if (number.kind == ScpiNumber::Kind::not_a_number) return "no number";
        char text[40];
        std::snprintf(text, sizeof text, "%.10g", number.value);
        if (field != "status" || role_ != Role::balance || !(number.value >= 0 && number.value <= 65535))
            return text;
        const int status = static_cast<int>(number.value);
        std::string words = text;
        if ((status & profile_->overload_bits) != 0) words += " (overload)";
        if (profile_->stable_bits != 0 && (status & profile_->stable_bits) == profile_->stable_bits)
            words += " (stable)";
        return words;
    }

    ScpiProfilePtr profile_;
    Role role_;
    std::string asked_;
};

}  // namespace

std::unique_ptr<Interpreter> make_scpi_interpreter(ScpiProfilePtr profile, Role role) {
    return std::make_unique<ScpiInterpreter>(std::move(profile), role);
}

}  // namespace tipwright::bench
