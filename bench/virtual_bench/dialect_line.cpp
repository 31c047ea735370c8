// Lines of text: commands are known by the patterns they are sent with, readings written by those they are
// read with.
#include <algorithm>
#include <charconv>
#include <deque>
#include <optional>

#include "bench/instruments/line_ascii/protocol.hpp"
#include "bench/virtual_bench/device_text.hpp"
#include "bench/virtual_bench/dialect.hpp"

namespace tipwright::bench {

namespace {

struct FieldText {
    double value = 0;
    int decimals = 0;  // where the pattern says none
    std::string text;  // of a word or the rest; else a number
};

// A line that the pattern reads, its fields filled in. The pattern knows alone which decimal sign it reads.
template <class FieldOf>
std::string written(const Pattern& pattern, const FieldOf& field_of) {
    const std::string& notation = pattern.notation();
    for (const char sign : {'.', ','}) {
        std::string line;
        for (std::size_t i = 0; i < notation.size(); ++i) {
            const char c = notation[i];
            if ((c == '{' || c == '}') && i + 1 < notation.size() && notation[i + 1] == c) {
                line += c;
                ++i;
                continue;
            }
            if (c != '{') {
                line += c;
                continue;
            }
            const std::size_t close = notation.find('}', i);
            const std::string inside = notation.substr(i + 1, close - i - 1);
            i = close;
            const std::size_t colon = std::min(inside.find(':'), inside.size());
            const FieldText field = field_of(inside.substr(0, colon));
            if (!field.text.empty()) {
                line += field.text;
                continue;
            }
            const std::string format = colon == inside.size() ? "" : inside.substr(colon + 1);
            const std::size_t point = format.find('.');
            const int decimals =
                point == std::string::npos ? field.decimals : std::atoi(format.c_str() + point + 1);
            std::string number = fixed_text(field.value, decimals);
            std::replace(number.begin(), number.end(), '.', sign);
            append_right(line, number, static_cast<std::size_t>(std::max(0, std::atoi(format.c_str()))));
        }
        FieldValues values;
        if (pattern.match(line, values)) return line;
    }
    return "";
}

class LineDialect final : public Dialect {
public:
    LineDialect(std::shared_ptr<const LineAsciiProfile> profile, Role role)
        : profile_(std::move(profile)), role_(role) {}

    void heard(std::string_view wire, std::string& commands, std::string&) override {
        for (const char c : wire) {
            if (c != '\r' && c != '\n') {
                held_ += c;
                continue;
            }
            if (!held_.empty()) commands += command(held_) + "\r";
            held_.clear();
        }
        // A profile may end what it sends with nothing.
        if (profile_->send_ending.empty() && !held_.empty()) {
            commands += command(held_) + "\r";
            held_.clear();
        }
    }

    std::string said(std::string_view line) override {
        const DeviceWords words = read_device_words(line);
        if (words.kind == DeviceWords::Kind::weight || words.kind == DeviceWords::Kind::climate) {
            const bool asked = profile_->read.send.has_value();
            const auto waits = std::find(pending_.begin(), pending_.end(), &profile_->read);
            if (asked && waits == pending_.end()) return "";
            if (asked) pending_.erase(waits);
            const std::string text = reading(words);
            return text.empty() ? "" : text + "\r\n";
        }
        const LineCommand* answered = pending_.empty() ? nullptr : pending_.front();
        if (!pending_.empty()) pending_.pop_front();
        const auto filled = [&](const Pattern& pattern) {
            return written(pattern, [&](const std::string& field) {
                if (field == "flow_mL_min" || field == "timeout_s")
                    return FieldText{value_, field == "timeout_s" ? 1 : 3, ""};
                return FieldText{0, 0, words.text.empty() ? "ok" : words.text};
            });
        };
        if (words.kind == DeviceWords::Kind::refused)
            return profile_->refusals.empty() ? "" : filled(profile_->refusals.front()) + "\r\n";
        if (answered == nullptr || answered->answers.empty()) return "";
        return filled(answered->answers.front()) + "\r\n";
    }

private:
    std::string command(const std::string& line) {
        struct Known {
            const LineCommand* command;
            const char* words;
            bool has_value;
            int decimals;
        };
        const Known known[] = {{&profile_->identify, "ID?", false, 0},
                               {&profile_->read, role_ == Role::climate ? "C?" : "W?", false, 0},
                               {&profile_->tare, "TARE", false, 0},
                               {&profile_->stop, "STOP", false, 0},
                               {&profile_->drain_open, "DRAIN OPEN", false, 0},
                               {&profile_->drain_close, "DRAIN CLOSE", false, 0},
                               {&profile_->set_flow, "FLOW ", true, 3},
                               {&profile_->arm, "TIMEOUT ", true, 1},
                               {&profile_->keep_alive, "ID?", false, 0}};
        FieldValues values;
        for (const Known& one : known) {
            if (!one.command->send || !one.command->send->match(line, values)) continue;
            pending_.push_back(one.command);
            if (!one.has_value) return one.words;
            value_ = values[0].number.value;
            return one.words + fixed_text(value_, one.decimals);
        }
        pending_.push_back(nullptr);
        return "UNKNOWN";
    }

    std::string reading(const DeviceWords& words) const {
        const auto field_of = [&](const std::string& field) {
            if (field == "unit") return FieldText{0, 0, "g"};
            if (field == "_" || field == "text") return FieldText{0, 0, "-"};
            const int shift = field == "mass_kg" ? 3 : field == "mass_mg" ? -3 : 0;
            const int decimals =
                words.kind == DeviceWords::Kind::climate ? 2 : std::max(0, words.decimals + shift);
            return FieldText{quantity_of(words, field), decimals, ""};
        };
        if (words.kind == DeviceWords::Kind::climate)
            return profile_->climates.empty() ? "" : written(profile_->climates.front(), field_of);
        // The pattern that says just this; else, for a balance without such a mark, one that says a weight.
        for (const bool exact : {true, false})
            for (const WeightPattern& one : profile_->weights)
                if (one.overload == words.over && (!exact || words.over || one.stable == words.stable))
                    return written(one.pattern, field_of);
        return "";
    }

    std::shared_ptr<const LineAsciiProfile> profile_;
    Role role_;
    std::string held_;
    std::deque<const LineCommand*> pending_;
    double value_ = 0;
};

}  // namespace

std::unique_ptr<Dialect> make_line_dialect(std::shared_ptr<const LineAsciiProfile> profile, Role role) {
    return std::make_unique<LineDialect>(std::move(profile), role);
}

}  // namespace tipwright::bench
