// Commands of this room: each adds itself to the command line.
#pragma once

namespace tipwright::program {

struct CommandLine;

void add_evaluate(CommandLine& line);
void add_certify(CommandLine& line);
void add_verify(CommandLine& line);
void add_compare(CommandLine& line);
void add_adjust(CommandLine& line);
void add_field_check(CommandLine& line);
void add_trial(CommandLine& line);
void add_plan(CommandLine& line);
void add_laboratory(CommandLine& line);
void add_rain(CommandLine& line);
void add_virtual_rain(CommandLine& line);

}  // namespace tipwright::program
