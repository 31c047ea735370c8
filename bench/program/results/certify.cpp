#include <cstdio>

#include "bench/program/command.hpp"
#include "bench/program/overwrite.hpp"
#include "bench/program/results/commands.hpp"
#include "bench/program/results/read_record.hpp"
#include "bench/program/results/results.hpp"
#include "bench/program/terminal.hpp"
#include "report/files/files.hpp"

namespace tipwright::program {

namespace {

struct CertifyOptions {
    std::filesystem::path record;
    std::filesystem::path out;
    std::string paper = "A4";
    std::string language = "en";
    bool force = false;
};

ExitCode certify(const CommonOptions& common, const CertifyOptions& options) {
    if (auto free = check_free(options.out, options.force); !free) return fail(common, free.fault());
    const auto record = read_record(options.record);
    if (!record) return fail(common, record.fault());
    const auto pdf = certificate_bytes(common, *record, options.paper, options.language);
    if (!pdf) return fail(common, pdf.fault());
    if (auto written = write_file(options.out, *pdf); !written) return fail(common, written.fault());
    if (common.json) {
        print_results(common, *record, {{"certificate", options.out}});
    } else {
        print_to(stdout, "%-12s %s\n", "certificate", options.out.c_str());
    }
    return ExitCode::done;
}

}  // namespace

void add_certify(CommandLine& line) {
    const auto [command, options] =
        add_command(line, line.app, "certify", "Draw the certificate of a record", certify);
    command.add_option("record", options->record, "Record (JSON)")->required()->type_name("RECORD");
    command.add_option("--out", options->out, "Certificate to write")->required()->type_name("FILE.pdf");
    command.add_option("--language", options->language, "en, de, fr, es, or a words file")
        ->capture_default_str();
    command.add_flag("--force", options->force, "Write over the file that is there");
    add_paper(command, *options);
}

}  // namespace tipwright::program
