// Options of entries in the register: what is not given stays as it is.
#pragma once

#include <optional>

#include "bench/program/register/session_options.hpp"

namespace tipwright::program {

struct IntervalOptions {
    std::optional<int> months;
    std::string agreed;
    bool none = false;
};

inline void add_interval(Subcommand command, IntervalOptions& interval) {
    command.add_option("--interval-months", interval.months, "Interval agreed with the customer")
        .in_range(1, 240);
    command.add_option("--agreed", interval.agreed, "Where it was agreed, for example an order")
        .type_name("TEXT");
    command.add_flag("--no-interval", interval.none, "Remove the agreed interval");
}

template <class T>
void take(const std::optional<T>& given, T& value) {
    if (given) value = *given;
}

template <class T>
void take(const std::optional<T>& given, std::optional<T>& value) {
    if (given) value = given;
}

inline Outcome take(const IntervalOptions& given, std::optional<report::AgreedInterval>& value) {
    if (given.none) value.reset();
    if (given.months) value = report::AgreedInterval{*given.months, given.agreed};
    if (!given.months && !given.agreed.empty())
        return Fault{FaultCode::usage, "--agreed without --interval-months", "command line", "give both"};
    return Done{};
}

}  // namespace tipwright::program
