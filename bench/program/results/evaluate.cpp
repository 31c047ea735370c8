#include "bench/program/commands.hpp"
#include "bench/program/results/evaluate_journal.hpp"
#include "bench/program/results/evaluate_supplied.hpp"
#include "bench/program/results/file_kind.hpp"
#include "bench/program/results/results.hpp"

namespace tipwright::program {

ExitCode evaluate(const CommonOptions& common, const EvaluateOptions& options) {
    RecordOptions record_options;
    record_options.state = options.as_left ? report::State::as_left : report::State::as_found;
    const auto kind = kind_of(options.source);
    if (!kind) return fail(common, kind.fault());
    const auto record = *kind == FileKind::journal ? record_of_journal(options.source, record_options)
                                                   : record_of_supplied(common, options, record_options);
    if (!record) return fail(common, record.fault());
    const auto files = write_results(common, *record, options.out, options.paper);
    if (!files) return fail(common, files.fault());
    print_results(common, *record, *files);
    return record->completeness == report::Completeness::complete ? ExitCode::done : ExitCode::incomplete;
}

}  // namespace tipwright::program
