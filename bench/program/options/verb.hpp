// Adding one subcommand: its options, and the function that does it.
#pragma once

#include <CLI/CLI.hpp>
#include <memory>
#include <string>

#include "bench/program/options/options.hpp"
#include "bench/program/register/passphrase.hpp"
#include "bench/program/register/session.hpp"

namespace tipwright::program {

template <class Options>
struct Verb {
    CLI::App& command;
    std::shared_ptr<Options> options;
    Options* operator->() const { return options.get(); }
};

template <class Options>
Verb<Options> add_verb(CommandLine& line, CLI::App& group, const std::string& name, const std::string& what,
                       ExitCode (*run)(const CommonOptions&, const Options&)) {
    auto options = std::make_shared<Options>();
    auto* command = group.add_subcommand(name, what);
    command->footer("Exit codes: see 'tipwright --help'.");
    command->callback([&line, options, run] {
        line.chosen = [&line, options, run] { return run(line.common, *options); };
    });
    return {*command, options};
}

inline CLI::App& add_group(CLI::App& parent, const std::string& name, const std::string& what) {
    auto* group = parent.add_subcommand(name, what);
    group->footer("Options of each: --help after it.");
    group->require_subcommand(1);
    return *group;
}

inline void add_passphrase(CLI::App& command, PassphraseSource& source, const std::string& which = "",
                           const std::string& group = "Seal") {
    source.option = which + "passphrase";
    command
        .add_option("--" + source.option + "-file", source.file,
                    "File with the " + (which.empty() ? "" : which.substr(0, which.size() - 1) + " ") +
                        "passphrase (default: asked for at the terminal)")
        ->type_name("FILE")
        ->group(group);
    command.add_option("--" + source.option + "-fd", source.descriptor, "Open descriptor to read it from")
        ->check(CLI::Range(0, 1023))
        ->type_name("N")
        ->group(group);
}

// Where the register is; for commands that write also who does it.
inline void add_session(CLI::App& command, Session& session, bool writes = true) {
    command
        .add_option("--register", session.location,
                    "Folder of the register, or a PostgreSQL connection string without password")
        ->envname("TIPWRIGHT_REGISTER")
        ->type_name("PLACE")
        ->group("Register");
    if (!writes) return;
    command.add_option("--person", session.person, "Who does this")
        ->envname("TIPWRIGHT_PERSON")
        ->type_name("NAME")
        ->group("Register");
    add_passphrase(command, session.passphrase, "person-", "Register");
}

inline void add_keys_folder(CLI::App& command, std::filesystem::path& folder) {
    command.add_option("--keys", folder, "Folder of the seal's keys")
        ->envname("TIPWRIGHT_KEYS")
        ->type_name("DIR")
        ->group("Seal");
}

inline void add_csv(CLI::App& command, std::filesystem::path& csv) {
    command.add_option("--csv", csv, "Write the table as CSV too")->type_name("FILE");
}

// Parts of add_register_commands.
void add_register_group(CommandLine& line);
void add_things(CommandLine& line, CLI::App& group);
void add_certificate_group(CommandLine& line);

}  // namespace tipwright::program
