// Commands of this room: each adds itself to the command line, or to the group that is given.
#pragma once

#include "bench/program/subcommand.hpp"

namespace tipwright::program {

struct CommandLine;

void add_register_group(CommandLine& line);
void add_people(CommandLine& line, Subcommand parent);
void add_customers(CommandLine& line, Subcommand parent);
void add_stations(CommandLine& line, Subcommand parent);
void add_gauges(CommandLine& line, Subcommand parent);
void add_instruments(CommandLine& line, Subcommand parent);
void add_service(CommandLine& line, Subcommand parent);

void add_certificate_group(CommandLine& line);
void add_draft_verbs(CommandLine& line, Subcommand group);
void add_issue(CommandLine& line, Subcommand group);
void add_following(CommandLine& line, Subcommand group);
void add_translate(CommandLine& line, Subcommand group);

void add_limits_group(CommandLine& line);

void add_keys_group(CommandLine& line);
void add_signing_certificate(CommandLine& line, Subcommand keys);

void add_ask_group(CommandLine& line);
void add_life(CommandLine& line);
void add_label(CommandLine& line);
void add_next(CommandLine& line);
void add_pack(CommandLine& line);

}  // namespace tipwright::program
