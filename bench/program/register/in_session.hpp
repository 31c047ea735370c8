// How a command that writes goes: open the register, say who works and when, do it, tell.
#pragma once

#include "bench/program/register/session.hpp"

namespace tipwright::program {

// `work(register, actor)` gives an ExitCode.
template <class Work>
ExitCode in_session(const CommonOptions& common, const Session& session, Work work) {
    if (const auto named = actor_of(session); !named) return refuse(common, named.fault());
    auto reg = open_register(session);
    if (!reg) return refuse(common, reg.fault());
    const auto actor = logged_in(*reg, session);
    if (!actor) return refuse(common, actor.fault());
    return work(*reg, *actor);
}

// `ask(register)` gives a Result<Table>, which is shown.
template <class Ask>
ExitCode table_of(const CommonOptions& common, const Session& session, const std::filesystem::path& csv,
                  Ask ask) {
    auto reg = open_register(session);
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
