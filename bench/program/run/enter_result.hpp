// The result of a run that came to its end enters the register by itself, where the command line or the
// settings say so (--enter).
#pragma once

#include <filesystem>
#include <string>

#include "bench/descriptions/descriptions.hpp"
#include "bench/program/common_options.hpp"
#include "bench/program/register/session.hpp"
#include "bench/program/subcommand.hpp"

namespace CLI {
class App;
}

namespace tipwright::program {

struct EnterOptions {
    bool enter = false;
    std::string bench_code;  // in certificate numbers; empty: the default
    std::filesystem::path work = "work";
    Session session;
};

// --enter, --bench-code, --register, --person and the options of their passphrase.
void add_enter(Subcommand command, EnterOptions& options);

// Before the water is poured: whether the register would refuse the result, or any certificate of it
// (Register::check_run). A register that is not there yet, or does not open, refuses nothing here.
Outcome check_entering(const EnterOptions& options, const bench::BenchDescription& bench,
                       const bench::GaugeDescription& gauge, const std::string& started_at);

// What was done, in a sentence. Fault: what cannot be entered is told; the run and its files are what they
// are.
Result<std::string> enter_result(const CommonOptions& common, const EnterOptions& options,
                                 const std::string& serial, const std::filesystem::path& run, bool as_left);
// The same, told.
ExitCode tell_entered(const CommonOptions& common, const EnterOptions& options, const std::string& serial,
                      const std::filesystem::path& run, bool as_left);

}  // namespace tipwright::program
