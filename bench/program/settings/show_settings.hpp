// tipwright settings: each setting, its value, and where that comes from.
#pragma once

namespace tipwright::program {

struct CommandLine;

void add_settings(CommandLine& line);

}  // namespace tipwright::program
