// How a command that writes goes: open the register, say who works and when, do it, tell.
#pragma once

#include "bench/program/register/desk.hpp"

namespace tipwright::program {

// `work(register, stamp)` gives an ExitCode.
template <class Work>
ExitCode at_desk(const CommonOptions& common, const Desk& desk, Work work) {
    const auto stamp = stamp_of(desk);
    if (!stamp) return refuse(common, stamp.fault());
    auto reg = open_register(desk);
    if (!reg) return refuse(common, reg.fault());
    return work(*reg, *stamp);
}

// `ask(register)` gives a Result<Table>, which is shown.
template <class Ask>
ExitCode table_of(const CommonOptions& common, const Desk& desk, const std::filesystem::path& csv, Ask ask) {
    auto reg = open_register(desk);
    if (!reg) return refuse(common, reg.fault());
    return show(common, ask(*reg), csv);
}

// "Entered gauge X." or "Changed gauge X."
inline ExitCode say_put(const CommonOptions& common, const Result<report::Id>& id, bool change,
                        const std::string& what) {
    if (!id) return refuse(common, id.fault());
    return say(common, (change ? "Changed " : "Entered ") + what + ".", {{"id", *id}});
}

}  // namespace tipwright::program
