#include "bench/program/instruments/bench_check_sheet.hpp"

#include "bench/program/overwrite.hpp"
#include "bench/program/results/results.hpp"
#include "report/files/files.hpp"
#include "report/laboratory/bench_check_page.hpp"

namespace tipwright::program {

namespace {

Result<std::string> drawn(const CommonOptions& common, const BenchCheckSheet& sheet,
                          const report::BenchCheckReport& report) {
    const auto paper = stationery(common, sheet.paper, sheet.language);
    if (!paper) return paper.fault();
    return report::draw_bench_check(report, *paper);
}

}  // namespace

void add_sheet(Subcommand command, BenchCheckSheet& sheet) {
    command.add_option("--out", sheet.out, "PDF page to write").type_name("FILE");
    add_force(command, sheet.out);
    command.add_option("--by", sheet.made_by, "Who made the check, for the page").type_name("NAME");
    command.add_option("--language", sheet.language, "Language of the page: en, de, fr, es, or a words file")
        .show_default();
    add_paper(command, sheet);
}

Outcome ready_to_write(const CommonOptions& common, const BenchCheckSheet& sheet) {
    if (sheet.out.empty()) return Done{};
    report::BenchCheckReport report;
    report.checked_at = "2000-01-01T00:00:00Z";
    report.checked_by = sheet.made_by;
    if (const auto page = drawn(common, sheet, report); !page) return page.fault();
    return Done{};
}

Outcome write_sheet(const CommonOptions& common, const BenchCheckSheet& sheet, const Workbench& work,
                    const BenchCheckFound& found) {
    if (sheet.out.empty()) return Done{};
    const bench::BenchDescription& bench = work.description();
    report::BenchCheckReport report;
    report.bench = bench.title;
    report.checked_at = work.started_at();
    report.checked_by = sheet.made_by;
    for (const CheckRow& row : found.table.grouped())
        report.rows.push_back({row.instrument, row.check, word_of(row.verdict), row.found, row.allowed});
    report.accepted = found.accepted;
    report.failed = found.failed;
    report.pump_stops_itself_s = found.pump_stops_itself_s;
    report.invented = bench.invented;
    if (bench.truth) report.origin = report::Origin::virtual_bench;
    const auto page = drawn(common, sheet, report);
    if (!page) return page.fault();
    return write_file(sheet.out, *page);
}

}  // namespace tipwright::program
