// Options that the commands of the register and of the seal's keys share.
#pragma once

#include "bench/program/command.hpp"
#include "bench/program/register/session.hpp"

namespace tipwright::program {

inline void add_passphrase(Subcommand command, PassphraseSource& source, const std::string& which = "",
                           const std::string& group = "Seal") {
    source.option = which + "passphrase";
    command
        .add_option("--" + source.option + "-file", source.file,
                    "File with the " + (which.empty() ? "" : which.substr(0, which.size() - 1) + " ") +
                        "passphrase (default: asked for at the terminal)")
        .type_name("FILE")
        .group(group);
    command
        .add_option("--" + source.option + "-fd", source.descriptor, "Open file descriptor to read it from")
        .in_range(0, 1023)
        .type_name("N")
        .group(group);
}

// Where the register is; for commands that write also who does it.
inline void add_session(Subcommand command, Session& session, bool writes = true) {
    command
        .add_option("--register", session.location,
                    "Folder of the register, or a PostgreSQL connection string without password")
        .environment("TIPWRIGHT_REGISTER")
        .type_name("PLACE")
        .group("Register");
    if (!writes) return;
    command.add_option("--person", session.person, "Your name, as the register has it")
        .environment("TIPWRIGHT_PERSON")
        .type_name("NAME")
        .group("Register");
    add_passphrase(command, session.passphrase, "person-", "Register");
}

inline void add_keys_folder(Subcommand command, std::filesystem::path& folder) {
    command.add_option("--keys", folder, "Folder of the seal's keys")
        .environment("TIPWRIGHT_KEYS")
        .type_name("DIR")
        .group("Seal");
}

// Whose entries are asked for.
inline void add_owner(Subcommand command, report::ListFilter& filter) {
    command.add_option("--customer", filter.customer, "Only of this customer").type_name("NAME");
    command.add_option("--station", filter.station, "Only of this station of the customer").type_name("NAME");
}

}  // namespace tipwright::program
