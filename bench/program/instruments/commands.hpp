// Commands of this room: each adds itself to the command line.
#pragma once

namespace tipwright::program {

struct CommandLine;

void add_ports(CommandLine& line);
void add_listen(CommandLine& line);
void add_bench_check(CommandLine& line);
void add_pump_calibration(CommandLine& line);
void add_balance_check(CommandLine& line);

}  // namespace tipwright::program
