// How a subcommand enters the command line. Each has a file, with its options, what it does, and the function
// add_...(), named in the commands.hpp of its room, which command_line.cpp calls.
#pragma once

#include <CLI/CLI.hpp>
#include <filesystem>
#include <functional>
#include <memory>
#include <string>

#include "bench/program/common_options.hpp"
#include "bench/program/overwrite.hpp"

namespace tipwright::program {

// The subcommand that was typed leaves in `chosen` what is to be done.
struct CommandLine {
    CLI::App& app;
    const CommonOptions& common;
    std::function<ExitCode()> chosen;
};

template <class Options>
struct Verb {
    CLI::App& command;
    std::shared_ptr<Options> options;
    Options* operator->() const { return options.get(); }
};

template <class Options>
Verb<Options> add_command(CommandLine& line, CLI::App& group, const std::string& name,
                          const std::string& what, ExitCode (*run)(const CommonOptions&, const Options&)) {
    auto options = std::make_shared<Options>();
    auto* command = group.add_subcommand(name, what);
    command->callback([&line, options, run] {
        line.chosen = [&line, options, run] { return run(line.common, *options); };
    });
    return {*command, options};
}

// One of a group.
template <class Options>
Verb<Options> add_verb(CommandLine& line, CLI::App& group, const std::string& name, const std::string& what,
                       ExitCode (*run)(const CommonOptions&, const Options&)) {
    auto verb = add_command(line, group, name, what, run);
    verb.command.footer("Exit codes: see 'tipwright --help'.");
    return verb;
}

inline CLI::App& add_group(CLI::App& parent, const std::string& name, const std::string& what) {
    auto* group = parent.add_subcommand(name, what);
    group->footer("Add --help to a subcommand to see its options.");
    group->require_subcommand(1);
    return *group;
}

inline void add_work_folder(CLI::App& command, std::filesystem::path& work) {
    command.add_option("--work", work, "Folder of the runs, with a folder in it for each gauge")
        ->envname("TIPWRIGHT_WORK")
        ->type_name("DIR")
        ->capture_default_str();
}

template <class Options>
void add_paper(CLI::App& command, Options& options) {
    command.add_option("--paper", options.paper, "Page size")
        ->check(CLI::IsMember({"A4", "Letter"}))
        ->capture_default_str();
}

inline void add_csv(CLI::App& command, std::filesystem::path& csv) {
    command.add_option("--csv", csv, "Write the table as CSV too")->type_name("FILE");
    add_force(command, csv);
}

}  // namespace tipwright::program
