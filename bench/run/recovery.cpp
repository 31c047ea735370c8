#include "bench/run/recovery.hpp"

#include <fstream>
#include <string>
#include <utility>

#include "bench/instruments/virtual_identity.hpp"
#include "bench/journal/line.hpp"

namespace tipwright::bench {

namespace {

// The machine stopped before even the first line was on the disk.
bool first_line_torn(const std::filesystem::path& journal) {
    std::ifstream in(journal, std::ios::binary);
    std::string start(journal_first_line.size() + 2, '\0');
    in.read(start.data(), static_cast<std::streamsize>(start.size()));
    start.resize(static_cast<std::size_t>(in.gcount()));
    return start.size() <= journal_first_line.size() && journal_first_line.starts_with(start);
}

KnownIdentities identities_in(const std::vector<std::string>& remarks) {
    KnownIdentities said;
    for (const std::string& remark : remarks)
        if (auto one = identity_in(remark)) said[one->first] = one->second;
    return said;
}

}  // namespace

Result<OpenRun> open_run(const std::filesystem::path& journal) {
    auto file = hold_append_file(journal);
    if (!file) return file.fault();
    OpenRun open;
    open.file = std::move(*file);
    if (first_line_torn(journal)) {
        std::error_code ignored;
        open.journal.torn_bytes = std::filesystem::file_size(journal, ignored);
        return open;
    }
    Replay replay;
    const auto summary =
        read_journal(journal, [&replay](const JournalEntry& entry) { return replay.take(entry); });
    if (!summary) return summary.fault();
    open.journal = *summary;
    if (!replay.begun()) return open;
    auto run = replay.finish();
    if (!run) return run.fault();
    open.run = std::move(*run);
    open.identities = identities_in(open.run.remarks);
    if (open.run.complete && summary->closed) {
        return Fault{FaultCode::inconsistent, "the run is complete: there is nothing to recover",
                     journal.string(), "'tipwright evaluate' computes its results again"};
    }
    int runs = 0;
    for (const auto& kept : open.run.observations) {
        if (kept.step != open.first_step) {
            return Fault{FaultCode::damaged,
                         "step " + std::to_string(kept.step) + " was measured before step " +
                             std::to_string(open.first_step),
                         journal.string(), "this is not a journal as the program writes it"};
        }
        const auto& steps = open.run.plan.plan.steps;
        const auto index = static_cast<std::size_t>(open.first_step - 1);
        // A step counts once every run of it is in.
        if (index >= steps.size() || ++runs < steps[index].repeats) continue;
        ++open.first_step;
        runs = 0;
    }
    return open;
}

Result<std::unique_ptr<JournalWriter>> go_on_writing(OpenRun& run, JournalOptions options) {
    return JournalWriter::resume(std::move(run.file), run.journal.kept_bytes, run.journal.entries, options);
}

}  // namespace tipwright::bench
