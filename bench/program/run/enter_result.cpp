#include "bench/program/run/enter_result.hpp"

#include "bench/program/register/certificate_options.hpp"
#include "bench/program/register/drafts.hpp"
#include "bench/program/register/session_options.hpp"
#include "bench/program/results/record_builder.hpp"
#include "bench/program/terminal.hpp"

namespace tipwright::program {

void add_enter(Subcommand command, EnterOptions& options) {
    command
        .add_flag("--enter", options.enter,
                  "Enter the result into the register; an as-left run also drafts a certificate, with the "
                  "as-found run")
        .group("Register");
    command.add_option("--bench-code", options.bench_code, "Code of the bench in certificate numbers")
        .environment("TIPWRIGHT_BENCH_CODE")
        .type_name("CODE")
        .group("Register");
    add_session(command, options.session);
}

Outcome check_entering(const EnterOptions& options, const bench::BenchDescription& bench,
                       const bench::GaugeDescription& gauge, const std::string& started_at) {
    if (!options.enter) return Done{};
    auto reg = open_register_to_read(options.session);
    if (!reg) return Done{};
    report::Record planned;
    planned.identity = identity_of(gauge);
    planned.gauge = gauge.gauge;
    add_instruments(bench.instruments, planned);
    add_instruments(bench.hand_instruments, planned);
    return reg->check_run(planned, options.bench_code.empty() ? default_bench : options.bench_code,
                          today(started_at));
}

Result<std::string> enter_result(const CommonOptions& common, const EnterOptions& options,
                                 const std::string& serial, const std::filesystem::path& run, bool as_left) {
    auto entered = enter_run(common, options.session, serial, options.work, run, as_left,
                             options.bench_code.empty() ? default_bench : options.bench_code);
    if (!entered)
        entered.fault().what =
            "the run is complete, but its result did not enter the register: " + entered.fault().what;
    return entered;
}

ExitCode tell_entered(const CommonOptions& common, const EnterOptions& options, const std::string& serial,
                      const std::filesystem::path& run, bool as_left) {
    const auto entered = enter_result(common, options, serial, run, as_left);
    if (!entered) return fail(common, entered.fault(), ExitCode::refused);
    if (!common.json) print_to(stdout, "%-12s %s\n", "register", *entered);
    return ExitCode::done;
}

}  // namespace tipwright::program
