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
