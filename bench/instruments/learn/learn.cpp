#include "bench/instruments/learn/learn.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <map>
#include <optional>

#include "bench/instruments/interpret.hpp"
#include "bench/instruments/learn/draft_text.hpp"
#include "bench/instruments/learn/line_tokens.hpp"
#include "bench/instruments/profile.hpp"

namespace tipwright::bench {

namespace {

using Kind = LineToken::Kind;

// A mass put on by hand is believed to this part of itself: enough to tell g from kg and one number from
// another.
constexpr double mass_part = 0.02;
// While something still moves on the pan, lines of the other form may stand between: of a form that says
// "stable" at least this many times more must come while nothing moves.
constexpr double stable_times = 2;
constexpr std::size_t lines_needed = 3;

struct Line {
    Situation situation{};
    bool settled = false;  // of the second half of its situation
    double time_s = 0;
    std::string text;
    std::vector<LineToken> tokens;
    std::string form;
};

struct Ending {
    std::size_t cr = 0;
    std::size_t lf = 0;
    std::size_t both = 0;
};

// Whole lines: the first may have begun before anybody looked, the last may not be at its end.
std::vector<Line> lines_of(const Watched& watched, Ending& ending) {
    std::vector<Line> out;
    std::string held;
    bool first = true;
    char before = 0;
    for (const TimedBytes& piece : watched.pieces)
        for (const char c : piece.bytes) {
            if (c == '\r') ++ending.cr;
            if (c == '\n') ++(before == '\r' ? ending.both : ending.lf);
            before = c;
            if (c != '\r' && c != '\n') {
                held += c;
                continue;
            }
            if (!held.empty() && !first)
                out.push_back({watched.situation, false, piece.time_s, held, {}, {}});
            if (!held.empty()) first = false;
            held.clear();
        }
    for (std::size_t i = out.size() / 2; i < out.size(); ++i) out[i].settled = true;
    return out;
}

double median(std::vector<double> values) {
    if (values.empty()) return 0;
    std::sort(values.begin(), values.end());
    return values[values.size() / 2];
}

struct Unit {
    const char* name;
    double g;
};
constexpr std::array<Unit, 3> units{{{"g", 1}, {"kg", 1000}, {"mg", 0.001}}};

const Unit* unit_named(const std::string& word) {
    const auto found =
        std::find_if(units.begin(), units.end(), [&](const Unit& unit) { return word == unit.name; });
    return found == units.end() ? nullptr : &*found;
}

std::vector<std::size_t> numbers_of(const std::vector<LineToken>& tokens) {
    std::vector<std::size_t> out;
    for (std::size_t i = 0; i < tokens.size(); ++i)
        if (tokens[i].kind == Kind::number) out.push_back(i);
    return out;
}

// Which number of a line is the mass: the how-manieth, in what unit, and whether a minus before it is no
// sign.
struct MassPlace {
    std::size_t ordinal = 0;
    const Unit* unit = nullptr;
    bool minus_is_a_sign = true;
    std::size_t fits = 0;
};

std::vector<MassPlace> mass_places(const std::vector<Line>& lines, double mass_g) {
    std::vector<MassPlace> out;
    for (std::size_t ordinal = 0; ordinal < 8; ++ordinal) {
        std::vector<double> empty;
        std::vector<double> loaded;
        int decimals = 0;
        for (const Line& line : lines) {
            const auto numbers = numbers_of(line.tokens);
            if (ordinal >= numbers.size() || !line.settled) continue;
            const double value = line.tokens[numbers[ordinal]].value;
            decimals = std::max(decimals, line.tokens[numbers[ordinal]].decimals);
            if (line.situation == Situation::empty) empty.push_back(value);
            if (line.situation == Situation::known_mass) loaded.push_back(value);
        }
        if (empty.empty() || loaded.empty()) continue;
        const double zero = median(empty);
        for (const Unit& unit : units) {
            // A minute that went by is no kilogram: the number must tell the mass finely enough.
            if (!(std::pow(10.0, -decimals) * unit.g <= mass_part * mass_g)) continue;
            for (const double sense : {1.0, -1.0}) {
                const std::size_t fits =
                    static_cast<std::size_t>(std::count_if(loaded.begin(), loaded.end(), [&](double value) {
                        return std::fabs((value - zero) * unit.g * sense - mass_g) <= mass_part * mass_g;
                    }));
                if (2 * fits > loaded.size()) out.push_back({ordinal, &unit, sense > 0, fits});
            }
        }
    }
    return out;
}

// Lines of one form, and what they are taken for.
struct Form {
    std::vector<const Line*> lines;
    std::size_t still = 0;   // lines of settled quiet situations
    std::size_t moving = 0;  // lines while something moved
    std::size_t over = 0;    // lines while overloaded
    ReadingDraft reading;
};

// How the mass is written in lines of this form: set right in columns, with how many decimals.
std::string mass_field(const Form& form, std::size_t token, const std::string& name, std::string& why) {
    std::size_t width = 0;
    bool one_width = true;
    std::vector<std::size_t> lengths;
    int decimals = -1;
    bool one_decimals = true;
    bool wide_blank = false;
    for (const Line* line : form.lines) {
        const LineToken& mass = line->tokens[token];
        lengths.push_back(mass.end - mass.begin);
        one_decimals = one_decimals && (decimals < 0 || decimals == mass.decimals);
        decimals = mass.decimals;
        if (token == 0 || !mass.blank_before) {
            one_width = false;
            continue;
        }
        const std::size_t from = line->tokens[token - 1].end + 1;
        one_width = one_width && (width == 0 || width == mass.end - from);
        width = mass.end - from;
        wide_blank = wide_blank || mass.begin > from;
    }
    std::string out = name;
    // A field that is as wide as its longest number shows itself by numbers of other lengths that end where
    // it ends.
    const bool right = one_width && wide_blank && width <= 30;
    if (right) {
        out += ":" + std::to_string(width);
        why += "; set right in " + std::to_string(width) + " columns";
    }
    if (one_decimals && decimals > 0) {
        out += (right ? "." : ":.") + std::to_string(decimals);
        why += "; " + std::to_string(decimals) + " decimals in every line";
    }
    return "{" + out + "}";
}

std::string literal(const std::string& text) {
    std::string out;
    for (const char c : text) {
        out += c;
        if (c == '{' || c == '}') out += c;
    }
    return out;
}

// The same in every line of the form?
bool constant(const Form& form, std::size_t token) {
    return std::all_of(form.lines.begin(), form.lines.end(), [&](const Line* line) {
        return line->tokens[token].text == form.lines.front()->tokens[token].text;
    });
}

void describe_form(Form& form, const MassPlace& place) {
    const std::vector<LineToken>& tokens = form.lines.front()->tokens;
    const auto numbers = numbers_of(tokens);
    const bool has_mass = place.ordinal < numbers.size() && !(form.still == 0 && form.moving == 0);
    const std::size_t mass = has_mass ? numbers[place.ordinal] : tokens.size();
    // At overload a number in the place of the mass may be the mark itself.
    const std::size_t over_number =
        !has_mass && place.ordinal < numbers.size() ? numbers[place.ordinal] : tokens.size();
    std::string& pattern = form.reading.pattern;
    std::string& why = form.reading.reason;
    const auto is_unit = [&](std::size_t i) {
        return i < tokens.size() && tokens[i].kind == Kind::word && unit_named(tokens[i].text) != nullptr;
    };
    // Two fields need something between them: a unit that touches the number stands for itself.
    const bool unit_behind = has_mass && is_unit(mass + 1) && tokens[mass + 1].blank_before;
    const bool unit_before =
        has_mass && !unit_behind && mass > 0 && is_unit(mass - 1) && tokens[mass].blank_before;
    for (std::size_t i = 0; i < tokens.size(); ++i) {
        if (tokens[i].blank_before && !pattern.empty()) pattern += ' ';
        const bool unit_here = (unit_behind && i == mass + 1) || (unit_before && i + 1 == mass);
        if (i == mass) {
            if (!place.minus_is_a_sign) pattern += "-";
            const bool unit_follows = unit_behind || unit_before;
            pattern +=
                mass_field(form, i, unit_follows ? "mass" : std::string("mass_") + place.unit->name, why);
            form.reading.has_unit = unit_follows;
        } else if (unit_here) {
            pattern += "{unit}";
            form.reading.said_unit = tokens[i].text;
        } else if (tokens[i].kind == Kind::any ||
                   (tokens[i].kind == Kind::number && !(over_number == i && constant(form, i)))) {
            pattern += "{_}";  // a number that never changed while one looked, as an hour, may change later
        } else {
            pattern += literal(tokens[i].text);
        }
    }
    form.reading.example = form.lines.back()->text;
    form.reading.count = form.lines.size();
}

std::string seen_in(const Form& form) {
    return std::to_string(form.still) + " lines at rest, " + std::to_string(form.moving) +
           " while it moved, " + std::to_string(form.over) + " at overload";
}

}  // namespace

Result<ProfileDraft> learn_balance(std::span<const Watched> watched, const LearnRequest& request) {
    if (!(request.mass_g > 0))
        return Fault{FaultCode::bad_value, "the known mass must be above zero", "mass", "give it in grams"};
    DraftParts parts;
    Ending ending;
    std::vector<Line> lines;
    std::size_t bytes = 0;
    std::vector<double> pauses;
    for (const Watched& one : watched) {
        for (const TimedBytes& piece : one.pieces) bytes += piece.bytes.size();
        std::vector<Line> more = lines_of(one, ending);
        for (std::size_t i = 1; i < more.size(); ++i) pauses.push_back(more[i].time_s - more[i - 1].time_s);
        lines.insert(lines.end(), more.begin(), more.end());
    }
    if (bytes == 0)
        return Fault{FaultCode::no_answer, "nothing came", "listen",
                     "check power and cable; a balance that is asked needs --send"};
    if (lines.size() < lines_needed)
        return Fault{FaultCode::garbled_answer,
                     std::to_string(lines.size()) + " whole lines in " + std::to_string(bytes) + " bytes",
                     "listen",
                     "check line speed and parity; a balance that sends no lines of text cannot be learned"};
    for (const Line& line : lines)
        if (std::any_of(line.text.begin(), line.text.end(),
                        [](char c) { return (c < 0x20 && c != '\t') || c >= 0x7f; }))
            return Fault{FaultCode::garbled_answer,
                         "bytes that are no printable ASCII: " + in_quotes(line.text), "listen",
                         "check line speed and parity"};

    std::vector<std::string> texts;
    texts.reserve(lines.size());
    for (const Line& line : lines)
        if (line.situation != Situation::overload) texts.push_back(line.text);
    parts.decimal_sign = decimal_sign_of(texts);
    const bool checksum = ends_in_checksum(texts);
    for (Line& line : lines) {
        line.tokens = line_tokens(line.text, parts.decimal_sign, checksum);
        line.form = form_of(line.tokens);
    }
    std::vector<MassPlace> places = mass_places(lines, request.mass_g);
    if (places.empty())
        return Fault{FaultCode::garbled_answer, "no number in the lines rose by the known mass", "listen",
                     "put the mass on when asked, and give its value in grams"};
    std::stable_sort(places.begin(), places.end(),
                     [](const MassPlace& a, const MassPlace& b) { return a.fits > b.fits; });
    std::vector<std::size_t> numbers;
    for (const MassPlace& one : places)
        if (one.fits == places.front().fits &&
            std::find(numbers.begin(), numbers.end(), one.ordinal) == numbers.end())
            numbers.push_back(one.ordinal);
    const auto wanted = std::find_if(places.begin(), places.end(), [&](const MassPlace& one) {
        return !request.number || one.ordinal == *request.number;
    });
    if (wanted == places.end())
        return Fault{FaultCode::bad_value,
                     "number " + std::to_string(*request.number + 1) + " of a line does not rise by the mass",
                     "number", "take another"};
    const MassPlace place = *wanted;
    if (!request.number && numbers.size() > 1)
        parts.doubts.push_back(
            "Numbers " + std::to_string(numbers[0] + 1) + " and " + std::to_string(numbers[1] + 1) +
            " of a line rise by the mass (gross and net?). The first is taken: is it right?");

    std::map<std::string, Form> forms;
    std::vector<std::string> order;
    std::size_t all_still = 0;
    std::size_t all_moving = 0;
    for (const Line& line : lines) {
        Form& form = forms[line.form];
        if (form.lines.empty()) order.push_back(line.form);
        form.lines.push_back(&line);
        const bool quiet = line.situation == Situation::empty || line.situation == Situation::known_mass;
        form.still += quiet && line.settled;
        form.moving += line.situation == Situation::moving;
        form.over += line.situation == Situation::overload;
        all_still += quiet && line.settled;
        all_moving += line.situation == Situation::moving;
    }
    bool any_stable = false;
    bool any_overload = false;
    for (const std::string& key : order) {
        Form& form = forms[key];
        ReadingDraft& reading = form.reading;
        const bool quiet_too = std::any_of(form.lines.begin(), form.lines.end(), [](const Line* line) {
            return line->situation != Situation::overload;
        });
        describe_form(form, place);
        reading.overload = !quiet_too;
        if (!reading.overload && reading.pattern.find("{mass") == std::string::npos) {
            parts.doubts.push_back("Lines as " + in_quotes(reading.example) + " (" + seen_in(form) +
                                   ") hold no mass. What do they say? They are left out.");
            continue;
        }
        const double still =
            all_still == 0 ? 0 : static_cast<double>(form.still) / static_cast<double>(all_still);
        const double moving =
            all_moving == 0 ? 0 : static_cast<double>(form.moving) / static_cast<double>(all_moving);
        reading.stable = !reading.overload && form.still > 0 && still >= stable_times * moving;
        any_stable = any_stable || reading.stable;
        any_overload = any_overload || reading.overload;
        reading.reason = seen_in(form) + reading.reason;
        if (reading.has_unit && unit_named(reading.said_unit) != place.unit)
            parts.doubts.push_back("The line says " + in_quotes(reading.said_unit) +
                                   ", the known mass was read as if in " + place.unit->name +
                                   ". Which is right?");
        parts.readings.push_back(reading);
    }
    if (!any_stable)
        parts.doubts.push_back(
            "No line tells rest from movement. Does the balance have a mark for rest that can be switched "
            "on?");
    if (!any_overload)
        parts.doubts.push_back(
            "No line tells an overload from a mass. What does the balance send when it is overloaded?");
    parts.request = &request;
    parts.period_s = median(pauses);
    parts.ends_with = ending.both > 0 ? "CR LF" : ending.lf > 0 ? "LF" : "CR";

    ProfileDraft out;
    out.toml = draft_text(parts);
    out.doubts = parts.doubts;
    out.numbers = numbers;
    out.example = parts.readings.empty() ? "" : parts.readings.front().example;
    out.lines = lines.size();
    const auto profile = parse_profile({"draft", out.toml});
    if (!profile) return profile.fault();
    const auto interpreter = make_interpreter(*profile);
    for (const Line& line : lines)
        for (const Meaning& meaning : interpreter->came(line.text + "\n"))
            out.understood += meaning.understood;
    return out;
}

}  // namespace tipwright::bench
