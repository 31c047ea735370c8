#include "bench/descriptions/reading.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <tuple>

namespace tipwright::bench {

std::string shortest(double value) {
    char buffer[64];
    const double size = std::abs(value);
    // "-0" is an integer to TOML, and 0 when it is read.
    if (size == 0) value = 0;
    const bool plain = size == 0 || (size >= 1e-7 && size < 1e15);
    const auto [end, error] =
        plain ? std::to_chars(buffer, buffer + sizeof buffer, value, std::chars_format::fixed)
              : std::to_chars(buffer, buffer + sizeof buffer, value);
    return error == std::errc() ? std::string(buffer, end) : std::string("?");
}

std::string toml_quoted(const std::string& text) {
    std::string out = "\"";
    for (const char c : visible(text)) {
        if (c == '"' || c == '\\') out += '\\';
        out += c;
    }
    return out + '"';
}

std::string nearest(std::string_view name, const std::vector<std::string>& known) {
    std::string best;
    std::size_t best_distance = std::max<std::size_t>(2, name.size() / 4) + 1;
    for (const std::string& candidate : known) {
        // Levenshtein's edit distance, one row at a time.
        std::vector<std::size_t> row(candidate.size() + 1);
        for (std::size_t j = 0; j <= candidate.size(); ++j) row[j] = j;
        for (std::size_t i = 1; i <= name.size(); ++i) {
            std::size_t diagonal = row[0];
            row[0] = i;
            for (std::size_t j = 1; j <= candidate.size(); ++j) {
                const std::size_t changed = diagonal + (name[i - 1] == candidate[j - 1] ? 0 : 1);
                diagonal = row[j];
                row[j] = std::min({row[j] + 1, row[j - 1] + 1, changed});
            }
        }
        // A name cut short or drawn out, for example without its unit, is near however long the rest.
        const bool begins = std::min(name.size(), candidate.size()) >= 4 &&
                            (candidate.starts_with(name) || name.starts_with(candidate));
        const std::size_t distance = begins ? std::min<std::size_t>(row.back(), 2) : row.back();
        if (distance < best_distance) {
            best_distance = distance;
            best = candidate;
        }
    }
    return best;
}

void FaultList::add(FaultCode code, TextPosition at, std::string what, std::string remedy) {
    noted_.push_back({at, {code, std::move(what), where(file_, at), std::move(remedy)}});
}

Fault FaultList::first() const {
    const auto rank = [](const Noted& noted) {
        return std::tuple(noted.fault.code == FaultCode::missing_field, noted.at.line, noted.at.column);
    };
    return std::min_element(noted_.begin(), noted_.end(),
                            [&](const Noted& a, const Noted& b) { return rank(a) < rank(b); })
        ->fault;
}

std::pair<std::string, std::string> out_of_range(std::string_view name, double value, NumberRange range) {
    const auto with_unit = [&](double number) {
        return shortest(number) + (range.unit.empty() ? "" : " " + std::string(range.unit));
    };
    std::string what = std::string(name) + " is " + shortest(value) + ", must be ";
    what += std::isinf(range.high) ? "at least " + with_unit(range.low)
                                   : shortest(range.low) + " to " + with_unit(range.high);
    std::string remedy;
    // A length given in metres or centimetres where millimetres are wanted lands in the range when scaled.
    if (range.unit == "mm") {
        for (const double factor : {1000.0, 10.0}) {
            const double meant = std::round(value * factor * 1e6) / 1e6;
            if (remedy.empty() && meant >= range.low && meant <= range.high)
                remedy = "did you mean " + with_unit(meant) + "?";
        }
    }
    return {std::move(what), std::move(remedy)};
}

}  // namespace tipwright::bench
