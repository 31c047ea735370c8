// tipwright next SERIAL: which command is the next one for a gauge, and why: from its runs in the work folder
// and from what the register knows of its orders, drafts and certificates.
#pragma once

#include "bench/program/register/session.hpp"

namespace tipwright::program {

struct NextOptions {
    Session session;
    std::string serial;
    std::filesystem::path work = "work";
};

ExitCode say_next(const CommonOptions& common, const NextOptions& options);

}  // namespace tipwright::program
