#include <CLI/CLI.hpp>

#include "bench/program/commands.hpp"
#include "bench/program/options/options.hpp"

namespace tipwright::program {

namespace {

void add_evaluate(CommandLine& line) {
    const auto options = std::make_shared<EvaluateOptions>();
    auto* command = line.app.add_subcommand(
        "evaluate", "Compute record and certificate from a journal or a table of measurements");
    command->add_option("source", options->source, "Journal, or CSV of supplied measurements")
        ->required()
        ->type_name("JOURNAL|CSV");
    command->add_option("--out", options->out, "Folder for record, tables, certificate")
        ->required()
        ->type_name("DIR");
    command->add_option("--plan", options->plan, "For CSV: plan whose limits and rule apply")
        ->type_name("FILE");
    command->add_flag("--as-left", options->as_left, "State after adjustment (default: as found)");
    add_paper(*command, *options);
    command->callback(
        [&line, options] { line.chosen = [&line, options] { return evaluate(line.common, *options); }; });
}

void add_certify(CommandLine& line) {
    const auto options = std::make_shared<CertifyOptions>();
    auto* command = line.app.add_subcommand("certify", "Draw the certificate of a record");
    command->add_option("record", options->record, "Record (JSON)")->required()->type_name("RECORD");
    command->add_option("--out", options->out, "Certificate to write")->required()->type_name("FILE.pdf");
    command->add_option("--language", options->language, "en, de, fr, es, or a words file")
        ->capture_default_str();
    add_paper(*command, *options);
    command->callback(
        [&line, options] { line.chosen = [&line, options] { return certify(line.common, *options); }; });
}

void add_verify(CommandLine& line) {
    const auto options = std::make_shared<VerifyOptions>();
    auto* command = line.app.add_subcommand(
        "verify", "Check journals, records, certificates, seals and packs, and that they agree");
    command
        ->add_option("files", options->files,
                     "Files, packs and folders to check, together; - reads the text of a square code")
        ->type_name("FILE");
    auto* keys =
        command
            ->add_option(
                "--public-keys", options->keys,
                "Public keys of the laboratory: everything must bear its seal (default: TIPWRIGHT_KEYS, "
                "or own keys)")
            ->type_name("FILE");
    command
        ->add_option("--register", options->location,
                     "Register to check by the public keys alone; certificates must be those it holds")
        ->type_name("PLACE");
    command->callback([&line, options, keys] {
        options->keys_named = keys->count() > 0;
        line.chosen = [&line, options] { return verify(line.common, *options); };
    });
}

void add_compare(CommandLine& line) {
    const auto options = std::make_shared<CompareOptions>();
    auto* command =
        line.app.add_subcommand("compare", "Overlay the error curves of several records; E_n and drift");
    command->add_option("records", options->records, "Records or certificates, two or more")
        ->required()
        ->type_name("FILE");
    command->add_option("--out", options->out, "Folder for comparison.csv and comparison.pdf")
        ->type_name("DIR");
    command->add_option("--limit", options->limit_percent, "Accuracy asked for, %")->capture_default_str();
    command->add_option("--at", options->intensities_mm_h, "Intensities to compare at, mm/h");
    add_paper(*command, *options);
    command->callback(
        [&line, options] { line.chosen = [&line, options] { return compare(line.common, *options); }; });
}

void add_list(CommandLine& line) {
    auto* command =
        line.app.add_subcommand("list", "List gauge kinds, gauges, plans, benches, profiles, limits");
    command->callback([&line] { line.chosen = [&line] { return list(line.common); }; });
}

}  // namespace

void add_result_commands(CommandLine& line) {
    add_evaluate(line);
    add_certify(line);
    add_verify(line);
    add_compare(line);
    add_list(line);
}

}  // namespace tipwright::program
