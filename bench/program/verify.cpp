#include <algorithm>
#include <cstdio>
#include <nlohmann/json.hpp>
#include <optional>

#include "bench/journal/reader.hpp"
#include "bench/program/commands.hpp"
#include "bench/program/evaluate_journal.hpp"
#include "bench/program/file_kind.hpp"
#include "bench/program/files.hpp"
#include "report/certificate_reader.hpp"
#include "report/fingerprint.hpp"
#include "report/record_json.hpp"

namespace tipwright::program {

namespace {

struct Finding {
    std::string file;
    bool ok = true;
    std::string text;
};

// What one file was found to hold.
struct Checked {
    std::string file;
    FileKind kind = FileKind::other;
    std::string sha256;
    std::optional<report::Record> record;  // as stored, or as computed from a journal
    std::string record_text;               // canonical
};

class Verifier {
public:
    Outcome take(const std::filesystem::path& file) {
        const auto kind = kind_of(file);
        if (!kind) return kind.fault();
        Checked checked;
        checked.file = file.string();
        checked.kind = *kind;
        switch (*kind) {
            case FileKind::journal:
                return take_journal(file, checked);
            case FileKind::record:
                return take_record(file, checked);
            case FileKind::certificate:
                return take_certificate(file, checked);
            case FileKind::other:
                break;
        }
        return Fault{FaultCode::syntax, "neither a journal nor a record nor a certificate", file.string(),
                     "give files that the program wrote"};
    }

    // Every pair that should agree.
    void compare() {
        for (const auto& a : checked_) {
            for (const auto& b : checked_) {
                if (a.kind == FileKind::journal && b.kind != FileKind::journal) compare_with_journal(a, b);
                if (a.kind == FileKind::record && b.kind == FileKind::certificate) {
                    const bool same = a.record_text == b.record_text;
                    add(b.file, same,
                        same ? "carries exactly the record " + a.file
                             : "carries another record than " + a.file);
                }
            }
        }
    }

    const std::vector<Finding>& findings() const { return findings_; }

private:
    void add(const std::string& file, bool ok, const std::string& text) {
        findings_.push_back({file, ok, text});
    }

    Outcome take_journal(const std::filesystem::path& file, Checked& checked) {
        const auto summary =
            bench::read_journal(file, [](const bench::JournalEntry&) -> Outcome { return Done{}; });
        if (!summary) {
            add(checked.file, false, summary.fault().line());
            return Done{};
        }
        const bool whole = summary->torn_bytes == 0 && summary->closed;
        add(checked.file, whole,
            std::to_string(summary->entries) + " entries, every checksum right" +
                (summary->torn_bytes > 0
                     ? ", but " + std::to_string(summary->torn_bytes) + " bytes torn at its end"
                     : "") +
                (summary->closed ? ", closed" : ", but never closed"));
        auto record = record_of_journal(file, {});
        if (!record) {
            add(checked.file, false, "cannot be evaluated: " + record.fault().line());
            return Done{};
        }
        checked.sha256 = record->source_sha256;
        checked.record = std::move(*record);
        checked_.push_back(std::move(checked));
        return Done{};
    }

    Outcome take_record(const std::filesystem::path& file, Checked& checked) {
        const auto text = read_file(file, report::max_record_bytes);
        if (!text) return text.fault();
        add_record(*text, checked);
        return Done{};
    }

    Outcome take_certificate(const std::filesystem::path& file, Checked& checked) {
        const auto bytes = read_file(file);
        if (!bytes) return bytes.fault();
        const auto text = report::read_attached_record(*bytes, file.string());
        if (!text) {
            add(checked.file, false, text.fault().line());
            return Done{};
        }
        add_record(*text, checked);
        return Done{};
    }

    void add_record(const std::string& text, Checked& checked) {
        auto record = report::record_from_json(text, checked.file);
        if (!record) {
            add(checked.file, false, record.fault().line());
            return;
        }
        checked.sha256 = report::sha256_hex(text);
        checked.record_text = report::record_to_json(*record);
        if (checked.record_text != text)
            add(checked.file, false, "its record is not in the program's own form: it was edited");
        // The results must follow from the record's own observations.
        std::vector<calib::StepObservation> observations;
        for (const auto& step : record->evaluation.steps) observations.push_back(step.observation);
        auto evaluation = calib::evaluate(observations, record->gauge, record->bench, record->plan);
        report::Record again = *record;
        if (evaluation) again.evaluation = std::move(*evaluation);
        const bool follows = evaluation.ok() && report::record_to_json(again) == checked.record_text;
        add(checked.file, follows,
            follows ? "record of gauge " + record->identity.serial +
                          ": results follow from its observations; fingerprint " + checked.sha256
                    : "its results do not follow from its own observations");
        checked.record = std::move(*record);
        checked_.push_back(std::move(checked));
    }

    void compare_with_journal(const Checked& journal, const Checked& other) {
        if (other.record->source_sha256 != journal.sha256) {
            add(other.file, false, "was not made from the journal " + journal.file);
            return;
        }
        // Number, state and issue are given after the measurement; all else is a function of the journal.
        report::Record again = *journal.record;
        again.number = other.record->number;
        again.state = other.record->state;
        again.issued_on = other.record->issued_on;
        again.authorised_by = other.record->authorised_by;
        again.program_version = other.record->program_version;
        again.source_name = other.record->source_name;
        const bool same = report::record_to_json(again) == other.record_text;
        add(other.file, same,
            same ? "equals what the journal " + journal.file + " gives, to the last bit"
                 : "differs from what the journal " + journal.file + " gives");
    }

    std::vector<Checked> checked_;
    std::vector<Finding> findings_;
};

}  // namespace

ExitCode verify(const CommonOptions& common, const VerifyOptions& options) {
    Verifier verifier;
    for (const auto& file : options.files) {
        if (auto taken = verifier.take(file); !taken) return fail(common, taken.fault());
    }
    verifier.compare();
    const auto& findings = verifier.findings();
    const bool ok =
        std::all_of(findings.begin(), findings.end(), [](const Finding& finding) { return finding.ok; });
    nlohmann::ordered_json document = {{"ok", ok}, {"findings", nlohmann::ordered_json::array()}};
    for (const auto& finding : findings) {
        document["findings"].push_back({{"file", finding.file}, {"ok", finding.ok}, {"text", finding.text}});
        if (!common.json) {
            std::printf("%-6s %s: %s\n", finding.ok ? "ok" : "WRONG", finding.file.c_str(),
                        finding.text.c_str());
        }
    }
    if (common.json) {
        std::printf("%s\n", document.dump(2, ' ', false, nlohmann::json::error_handler_t::replace).c_str());
    }
    return ok ? ExitCode::done : ExitCode::disagrees;
}

}  // namespace tipwright::program
