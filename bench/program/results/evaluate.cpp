#include "bench/program/command.hpp"
#include "bench/program/overwrite.hpp"
#include "bench/program/results/commands.hpp"
#include "bench/program/results/evaluate_journal.hpp"
#include "bench/program/results/evaluate_supplied.hpp"
#include "bench/program/results/file_kind.hpp"
#include "bench/program/results/results.hpp"

namespace tipwright::program {

namespace {

ExitCode evaluate(const CommonOptions& common, const EvaluateOptions& options) {
    RecordOptions record_options;
    record_options.state = options.as_left ? report::State::as_left : report::State::as_found;
    const auto kind = kind_of(options.source);
    if (!kind) return fail(common, kind.fault());
    const auto record = *kind == FileKind::journal ? record_of_journal(options.source, record_options)
                                                   : record_of_supplied(common, options, record_options);
    if (!record) return fail(common, record.fault());
    if (record->state != record_options.state && options.as_left)
        return fail(common, as_found_not_left(options.source));
    const auto files = write_results(common, *record, options.out, options.paper);
    if (!files) return fail(common, files.fault());
    print_results(common, *record, *files);
    return record->completeness == report::Completeness::complete ? ExitCode::done : ExitCode::incomplete;
}

}  // namespace

void add_evaluate(CommandLine& line) {
    const auto [command, options] =
        add_command(line, line.app, "evaluate",
                    "Compute record and certificate from a journal or a table of measurements", evaluate);
    command.add_option("source", options->source, "Journal, or CSV of supplied measurements")
        .required()
        .type_name("JOURNAL|CSV");
    command.add_option("--out", options->out, "Folder for record, tables, certificate")
        .required()
        .type_name("DIR");
    command.add_option("--plan", options->plan, "For a CSV: plan whose limits and decision rule apply")
        .type_name("FILE");
    command.add_flag("--as-left", options->as_left,
                     "The gauge was measured after adjustment; only for a CSV or a journal of version 1.0, "
                     "later ones state it");
    add_force(command, options->out, {"record.json", "certificate.pdf"});
    add_paper(command, *options);
}

}  // namespace tipwright::program
