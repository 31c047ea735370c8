#include "bench/program/results/evaluate_journal.hpp"

#include "bench/journal/reader.hpp"
#include "report/seal/digest.hpp"

namespace tipwright::program {

Result<report::Record> record_of_journal(const std::filesystem::path& journal, const RecordOptions& options) {
    bench::Replay replay;
    const auto summary = bench::read_journal(
        journal, [&replay](const bench::JournalEntry& entry) { return replay.take(entry); });
    if (!summary) return summary.fault();
    auto run = replay.finish();
    if (!run) return run.fault();
    if (summary->torn_bytes > 0) {
        run->remarks.push_back("The journal's last " + std::to_string(summary->torn_bytes) +
                               " bytes were torn and are left out.");
    }
    auto digest = seal::sha256_hex_of_file(journal.string());
    if (!digest) return digest.fault();
    return record_of_run(*run, {journal.filename().string(), *digest}, options);
}

Fault as_found_not_left(const std::filesystem::path& journal) {
    return {FaultCode::inconsistent, "the journal says that the gauge was measured as found",
            journal.string(), "leave --as-left out; measure anew after an adjustment"};
}

}  // namespace tipwright::program
