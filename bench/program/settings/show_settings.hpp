// tipwright settings: each setting, its value, and where that comes from.
#pragma once

#include "bench/program/commands.hpp"

namespace tipwright::program {

ExitCode show_settings(const CommonOptions& common);

}  // namespace tipwright::program
