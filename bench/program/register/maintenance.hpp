// Keeping the register, asking it, and handing out packs.
#pragma once

#include "bench/program/register/session.hpp"

namespace tipwright::program {

struct KeepingOptions {
    Session session;
    std::filesystem::path folder;  // of a backup
    std::filesystem::path keys;    // public keys: a file, or the folder of keys
    std::string why;
    std::size_t last = 30;
    bool logins = false;                   // whoever makes the register sets a passphrase
    PassphraseSource passphrase = {};      // of the seal
    PassphraseSource new_passphrase = {};  // of whoever makes the register
};

struct AskOptions {
    Session session;
    report::ListFilter filter;
    std::string instrument, role, from, to;
    std::string kind;
    double percent = 2;
    double years = 3;
    std::filesystem::path csv;
};

struct LifeOptions {
    Session session;
    std::string serial;  // empty: one a line from standard input, as a scanner types them
};

struct PackOptions {
    Session session;
    std::vector<std::string> numbers;
    report::ListFilter owner;
    bool each_station = false;  // a zip for each, in the folder `out`
    std::filesystem::path out;
};

ExitCode create_register(const CommonOptions& common, const KeepingOptions& options);
ExitCode check_register(const CommonOptions& common, const KeepingOptions& options);
// What was found whole, and how far it is sealed: whole sentences.
std::string inspection_sentences(const report::InspectionReport& report);
ExitCode seal_register(const CommonOptions& common, const KeepingOptions& options);
ExitCode backup_register(const CommonOptions& common, const KeepingOptions& options);
ExitCode restore_register(const CommonOptions& common, const KeepingOptions& options);
ExitCode tidy_register(const CommonOptions& common, const KeepingOptions& options);
ExitCode show_log(const CommonOptions& common, const KeepingOptions& options);
ExitCode accept_clock(const CommonOptions& common, const KeepingOptions& options);

ExitCode ask_due(const CommonOptions& common, const AskOptions& options);
ExitCode ask_recall(const CommonOptions& common, const AskOptions& options);
ExitCode ask_drift(const CommonOptions& common, const AskOptions& options);
ExitCode ask_tolerance(const CommonOptions& common, const AskOptions& options);
ExitCode ask_work(const CommonOptions& common, const AskOptions& options);
ExitCode show_life(const CommonOptions& common, const LifeOptions& options);
ExitCode make_pack(const CommonOptions& common, const PackOptions& options);

}  // namespace tipwright::program
