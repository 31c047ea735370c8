// Detail: one JSON object of an audit entry, keys in the order they were added. Private to report/register.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "report/register/entries.hpp"

namespace tipwright::report {

class Detail {
public:
    Detail& text(std::string_view key, std::string_view value);  // left out when empty
    Detail& integer(std::string_view key, std::int64_t value);   // left out when 0
    Detail& real(std::string_view key, const std::optional<double>& value);
    Detail& interval(const std::optional<AgreedInterval>& value);
    std::string json() const { return "{" + body_ + "}"; }

private:
    void key(std::string_view name);
    std::string body_;
};

// What the log keeps of each kind of row, so that a row can be held against its last entry.
std::string detail_of(const Person& person);
std::string detail_of(const Customer& customer);
std::string detail_of(const Station& station);
std::string detail_of(const GaugeEntry& gauge);
std::string detail_of(const InstrumentEntry& instrument);
std::string detail_of(const InstrumentCalibration& calibration);
std::string detail_of(const Order& order);

}  // namespace tipwright::report
