// Commands of this room: each adds itself to the command line, or to the group that is given.
#pragma once

#include <CLI/App.hpp>

namespace tipwright::program {

struct CommandLine;

void add_register_group(CommandLine& line);
void add_people(CommandLine& line, CLI::App& parent);
void add_customers(CommandLine& line, CLI::App& parent);
void add_stations(CommandLine& line, CLI::App& parent);
void add_gauges(CommandLine& line, CLI::App& parent);
void add_instruments(CommandLine& line, CLI::App& parent);
void add_service(CommandLine& line, CLI::App& parent);

void add_certificate_group(CommandLine& line);
void add_draft_verbs(CommandLine& line, CLI::App& group);
void add_issue(CommandLine& line, CLI::App& group);
void add_following(CommandLine& line, CLI::App& group);
void add_translate(CommandLine& line, CLI::App& group);

void add_limits_group(CommandLine& line);

void add_keys_group(CommandLine& line);
void add_signing_certificate(CommandLine& line, CLI::App& keys);

void add_ask_group(CommandLine& line);
void add_life(CommandLine& line);
void add_label(CommandLine& line);
void add_next(CommandLine& line);
void add_pack(CommandLine& line);

}  // namespace tipwright::program
