#include "bench/program/run/run_outcome.hpp"

#include <cstdio>

#include "bench/program/results/evaluate_journal.hpp"
#include "bench/program/results/results.hpp"
#include "bench/program/terminal.hpp"

namespace tipwright::program {

ExitCode exit_code_of(const Fault& fault) {
    return fault.code == FaultCode::interrupted ? ExitCode::interrupted : ExitCode::bench_fault;
}

ExitCode tell_outcome(const CommonOptions& common, const OutcomeOptions& options, const bench::RunEnd& end,
                      std::size_t steps) {
    const std::filesystem::path journal = options.folder / journal_name;
    if (!end.complete) {
        if (!common.json) {
            print_to(stdout, "\n%-12s %s (kept: %d of %zu steps)\n", "journal", journal.c_str(),
                     end.steps_done, steps);
            print_to(stdout, "%-12s tipwright recover %s\n", "to go on", options.folder.c_str());
            std::fflush(stdout);
        }
        return fail(common, *end.fault, exit_code_of(*end.fault));
    }
    RecordOptions record_options;
    record_options.state = options.as_left ? report::State::as_left : report::State::as_found;
    const auto record = record_of_journal(journal, record_options);
    if (!record) return fail(common, record.fault(), ExitCode::incomplete);
    auto files = write_results(common, *record, options.folder, options.paper);
    if (!files) return fail(common, files.fault());
    files->insert(files->begin(), {"journal", journal});
    print_results(common, *record, *files);
    return ExitCode::done;
}

}  // namespace tipwright::program
