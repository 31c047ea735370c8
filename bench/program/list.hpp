// list: the templates that are there by name.
#pragma once

namespace tipwright::program {

struct CommandLine;

void add_list(CommandLine& line);

}  // namespace tipwright::program
