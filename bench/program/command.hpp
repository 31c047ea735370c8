// How a subcommand enters the command line. Each has a file, with its options, what it does, and the function
// add_...(), named in the commands.hpp of its room, which command_line.cpp calls.
#pragma once

#include <filesystem>
#include <functional>
#include <memory>
#include <string>

#include "bench/program/common_options.hpp"
#include "bench/program/overwrite.hpp"
#include "bench/program/subcommand.hpp"

namespace tipwright::program {

// The subcommand that was typed leaves in `chosen` what is to be done.
struct CommandLine {
    Subcommand app;
    const CommonOptions& common;
    std::function<ExitCode()> chosen;
};

template <class Options>
struct Verb {
    Subcommand command;
    std::shared_ptr<Options> options;
    Options* operator->() const { return options.get(); }
};

template <class Options>
Verb<Options> add_command(CommandLine& line, Subcommand group, const std::string& name,
                          const std::string& what, ExitCode (*run)(const CommonOptions&, const Options&)) {
    auto options = std::make_shared<Options>();
    auto command = group.add_subcommand(name, what);
    command.on_chosen([&line, options, run] {
        line.chosen = [&line, options, run] { return run(line.common, *options); };
    });
    return {command, options};
}

// One of a group.
template <class Options>
Verb<Options> add_verb(CommandLine& line, Subcommand group, const std::string& name, const std::string& what,
                       ExitCode (*run)(const CommonOptions&, const Options&)) {
    auto verb = add_command(line, group, name, what, run);
    verb.command.footer("Exit codes: see 'tipwright --help'.");
    return verb;
}

inline Subcommand add_group(Subcommand parent, const std::string& name, const std::string& what) {
    auto group = parent.add_subcommand(name, what);
    group.footer("Add --help to a subcommand to see its options.");
    group.require_one_subcommand();
    return group;
}

inline void add_work_folder(Subcommand command, std::filesystem::path& work) {
    command.add_option("--work", work, "Folder of the runs, with a folder in it for each gauge")
        .environment("TIPWRIGHT_WORK")
        .type_name("DIR")
        .show_default();
}

template <class Options>
void add_paper(Subcommand command, Options& options) {
    command.add_option("--paper", options.paper, "Page size").one_of({"A4", "Letter"}).show_default();
}

inline void add_csv(Subcommand command, std::filesystem::path& csv) {
    command.add_option("--csv", csv, "Write the table as CSV too").type_name("FILE");
    add_force(command, csv);
}

}  // namespace tipwright::program
