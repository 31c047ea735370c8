#include <cstdio>

#include "bench/program/commands.hpp"
#include "bench/program/results/read_record.hpp"
#include "bench/program/results/results.hpp"
#include "bench/program/terminal.hpp"
#include "report/files/files.hpp"

namespace tipwright::program {

ExitCode certify(const CommonOptions& common, const CertifyOptions& options) {
    const auto record = read_record(options.record);
    if (!record) return fail(common, record.fault());
    if (record->completeness != report::Completeness::complete) {
        return fail(common,
                    {FaultCode::inconsistent, "the measurement is incomplete: " + record->end_reason,
                     options.record.string(), "a certificate needs a complete run"},
                    ExitCode::incomplete);
    }
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

}  // namespace tipwright::program
