// Commands of this room: each adds itself to the command line.
#pragma once

namespace tipwright::program {

struct CommandLine;

void add_calibrate(CommandLine& line);
void add_serve(CommandLine& line);
void add_lanes(CommandLine& line);
void add_recover(CommandLine& line);

}  // namespace tipwright::program
