#include <algorithm>
#include <cstdio>
#include <iostream>
#include <nlohmann/json.hpp>
#include <optional>

#include "bench/journal/reader.hpp"
#include "bench/program/command.hpp"
#include "bench/program/register/public_keys.hpp"
#include "bench/program/register/seal_check.hpp"
#include "bench/program/results/commands.hpp"
#include "bench/program/results/evaluate_journal.hpp"
#include "bench/program/results/file_kind.hpp"
#include "bench/program/results/proof.hpp"
#include "bench/program/results/read_record.hpp"
#include "bench/program/results/register_check.hpp"
#include "bench/program/results/results.hpp"
#include "bench/program/results/table_check.hpp"
#include "bench/program/terminal.hpp"
#include "bench/program/version.hpp"
#include "report/files/files.hpp"
#include "report/files/fingerprint.hpp"
#include "report/pack/pack.hpp"
#include "report/pack/zip.hpp"
#include "report/record/certificate_reader.hpp"
#include "report/record/record_json.hpp"
#include "report/record/statement_of.hpp"

namespace tipwright::program {

namespace {

struct VerifyOptions {
    std::vector<std::filesystem::path> files;  // or folders; "-": a seal's text on standard input
    std::filesystem::path keys;                // public keys; empty: the user's own
    bool keys_named = false;                   // on the command line: then everything must be sealed
    std::string location;                      // of a register to check too; empty: none
};

constexpr std::size_t most_files = 20000;

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
    std::string as_found_text;             // of a certificate that shows both states
    bool recomputed = false;               // its results follow from its observations
    bool from_journal = false;             // equals what a journal given gives
};

class Verifier {
public:
    Verifier(const CommonOptions& common, const seal::PublicKeys* keys, bool must)
        : common_(common),
          keys_(keys),
          seals_(keys, must,
                 [this](const std::string& file, bool ok, const std::string& text) { add(file, ok, text); }) {
    }

    Outcome take(const std::filesystem::path& file) {
        std::error_code error;
        if (file == "-") return take_standard_input();
        if (std::filesystem::is_directory(file, error)) return take_folder(file);
        const auto kind = kind_of(file);
        if (!kind) return kind.fault();
        taken_.push_back(file.string());
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
            case FileKind::zip:
                return take_zip(file);
            case FileKind::seal:
            case FileKind::seal_code:
                return take_seal(file);
            case FileKind::table:
                return take_table(file);
            case FileKind::xml:
            case FileKind::other:
                return take_sealed(file);
        }
        return Done{};
    }

    // A register, by the public keys alone; the certificates given must be those that it holds.
    Outcome take_register(const std::string& place) {
        std::vector<IssuedFile> certificates;
        for (const Checked& checked : checked_)
            if (checked.kind == FileKind::certificate && checked.record->number != "DRAFT")
                certificates.push_back({checked.file, checked.record->number});
        auto checked = check_register(
            place, keys_, certificates,
            [this](const std::string& file, bool ok, const std::string& text) { add(file, ok, text); });
        if (!checked) return checked.fault();
        register_ = std::move(*checked);
        return Done{};
    }

    // Every pair that should agree.
    Outcome compare() {
        for (const auto& a : checked_) {
            for (auto& b : checked_) {
                if (a.kind == FileKind::journal && b.kind != FileKind::journal) compare_with_journal(a, b);
                if (a.kind == FileKind::record && b.kind == FileKind::certificate) {
                    // Certificates of several gauges may be given together.
                    if (a.record->number != b.record->number) continue;
                    const bool same = a.record_text == b.record_text || a.record_text == b.as_found_text;
                    add(b.file, same,
                        same ? "carries exactly the record " + a.file
                             : "carries another record than " + a.file);
                }
            }
        }
        if (const Outcome compared = compare_tables(); !compared) return compared;
        if (auto done = seals_.finish(); !done) return done;
        judge_otherwise();
        tell_unjudged();
        return Done{};
    }

    Proof proof() const {
        Proof out;
        out.register_proved = register_.proved;
        out.register_open = register_.open;
        out.findings = findings_.size();
        for (const Finding& finding : findings_) out.wrong += finding.ok ? 0U : 1U;
        out.sealed = seals_.proven();
        out.keys_given = keys_ != nullptr;
        out.packs = packs_;
        for (const Checked& checked : checked_) {
            if (checked.record) {
                out.invented = out.invented || checked.record->invented;
                out.virtual_bench =
                    out.virtual_bench || checked.record->origin == report::Origin::virtual_bench;
            }
            if (checked.kind == FileKind::journal) {
                ++out.journals;
                continue;
            }
            out.records += checked.recomputed ? 1U : 0U;
            out.otherwise = out.otherwise || !checked.recomputed;
            if (checked.record && checked.record->number == "DRAFT") ++out.without_seal;
            if (checked.from_journal) {
                ++out.from_journal;
            } else {
                ++out.without_journal;
                out.supplied = out.supplied ||
                               (checked.record && checked.record->origin == report::Origin::supplied_data);
            }
        }
        return out;
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

    Outcome take_standard_input() {
        // The text of square codes, as a reader hands it over: one a line.
        std::string text(longest_seal_text + 1, '\0');
        std::cin.read(text.data(), static_cast<std::streamsize>(text.size()));
        text.resize(static_cast<std::size_t>(std::cin.gcount()));
        taken_.push_back("standard input");
        return seals_.text("standard input", text);
    }

    Outcome take_seal(const std::filesystem::path& file) {
        const auto text = read_file(file, longest_seal_text);
        return text ? seals_.text(file.string(), *text) : text.fault();
    }

    // A table: its own seal if it has one, and the record it must follow from.
    Outcome take_table(const std::filesystem::path& file) {
        const auto bytes = read_file(file, report::max_record_bytes);
        if (!bytes) return bytes.fault();
        tables_.emplace_back(file.string(), *bytes);
        return bytes->find("tipwright-file-seal") == std::string::npos
                   ? Outcome(Done{})
                   : seals_.file(file.string(), *bytes, "");
    }

    Outcome compare_tables() {
        if (tables_.empty()) return Done{};
        // A table may speak any of the languages; their words are read for tables alone.
        std::vector<report::certificate::Words> languages;
        for (const char* language : {"en", "de", "fr", "es"}) {
            auto words = certificate_words(common_, language);
            if (!words) return words.fault();
            languages.push_back(std::move(*words));
        }
        for (const auto& [name, bytes] : tables_) compare_table(name, bytes, languages);
        return Done{};
    }

    void compare_table(const std::string& name, const std::string& bytes,
                       const std::vector<report::certificate::Words>& languages) {
        const std::string body = without_seal_line(bytes);
        bool any = false;
        for (const Checked& checked : checked_) {
            if (!checked.record) continue;
            const TableMatch match = match_table(*checked.record, body, languages);
            any = any || match != TableMatch::no_such_table;
            if (match != TableMatch::follows) continue;
            add(name, true, "follows from " + checked.file);
            return;
        }
        // Sealed by itself it needs no record beside it.
        const bool told = std::any_of(findings_.begin(), findings_.end(),
                                      [&](const Finding& finding) { return finding.file == name; });
        if (any)
            add(name, false,
                "does not follow from any record given with it: it was changed, or belongs to another");
        else if (!told)
            add(name, false, "cannot be judged by itself: give the record it was made from with it");
    }

    // Whoever edits results can name another version too: only what a seal vouches for may differ so.
    void judge_otherwise() {
        for (const std::size_t i : otherwise_) {
            Finding& finding = findings_[i];
            finding.ok = seals_.vouches_for(finding.file);
            finding.text += finding.ok ? "; the laboratory's seal vouches for what it says"
                                       : "; no seal vouches for what it says, so it may have been edited";
        }
    }

    // What no check had anything to say about was not judged, and that is not in order.
    void tell_unjudged() {
        for (const std::string& name : taken_)
            if (std::none_of(findings_.begin(), findings_.end(), [&](const Finding& finding) {
                    return finding.file == name || finding.file.starts_with(name + "/");
                }))
                add(name, false,
                    "cannot be judged: it bears no seal, and nothing given with it tells what it must be");
    }

    // XML, or a text whose last line is its seal.
    Outcome take_sealed(const std::filesystem::path& file) {
        const auto bytes = read_file(file);
        if (!bytes) return bytes.fault();
        if (bytes->size() <= longest_seal_text &&
            ("\n" + *bytes).find("\nTIPWRIGHT SEAL ") != std::string::npos)
            return seals_.text(file.string(), *bytes);
        if (bytes->find("tipwright-file-seal") == std::string::npos &&
            kind_of_bytes(*bytes) == FileKind::other) {
            add(file.string(), false,
                "no file that the program writes, or one without seal: nothing can be said of it");
            return Done{};
        }
        return seals_.file(file.string(), *bytes, "");
    }

    Outcome take_zip(const std::filesystem::path& file) {
        const auto bytes = read_file(file, report::pack::max_pack_bytes);
        if (!bytes) return bytes.fault();
        const auto files = report::pack::unzip(*bytes, file.string());
        if (!files) {
            add(file.string(), false, files.fault().what);
            return Done{};
        }
        return take_pack(file, *files);
    }

    Outcome take_folder(const std::filesystem::path& folder) {
        std::error_code error;
        const bool is_pack = std::filesystem::exists(folder / report::pack::checksums_name, error);
        std::vector<std::filesystem::path> paths;
        std::filesystem::recursive_directory_iterator it(folder, error);
        for (; !error && it != std::filesystem::recursive_directory_iterator(); it.increment(error)) {
            if (it->is_regular_file(error)) paths.push_back(it->path());
            if (it->is_symlink(error) || paths.size() > most_files)
                return Fault{FaultCode::bad_value, "holds links, or more files than a pack",
                             it->path().string(), "name a pack as it was made"};
        }
        if (error) return Fault{FaultCode::file_unreadable, error.message(), folder.string(), ""};
        std::sort(paths.begin(), paths.end());
        std::vector<report::pack::File> files;
        std::uintmax_t size = 0;
        for (const auto& path : paths) {
            if (!is_pack) {
                if (auto taken = take(path); !taken) return taken;
                continue;
            }
            // Refused by its size, before it is read.
            if (size += std::filesystem::file_size(path, error); error || size > report::pack::max_pack_bytes)
                return Fault{
                    FaultCode::file_too_large,
                    "more than the " + std::to_string(report::pack::max_pack_bytes >> 20) + " MiB of a pack",
                    folder.string(), "name a pack as it was made"};
            auto bytes = read_file(path);
            if (!bytes) return bytes.fault();
            files.push_back({path.lexically_relative(folder).generic_string(), std::move(*bytes)});
        }
        if (paths.empty()) return Fault{FaultCode::file_missing, "the folder is empty", folder.string(), ""};
        return is_pack ? take_pack(folder, files) : Outcome(Done{});
    }

    Outcome take_pack(const std::filesystem::path& pack, const std::vector<report::pack::File>& files) {
        if (keys_ == nullptr)
            return Fault{FaultCode::missing_field, "a pack is checked with the laboratory's public keys",
                         pack.string(), "give them with --public-keys"};
        taken_.push_back(pack.string());
        bool whole = true;
        for (const auto& finding : report::pack::check(files, *keys_)) {
            whole = whole && finding.ok;
            add(finding.path.empty() ? pack.string() : (pack / finding.path).string(), finding.ok,
                finding.text);
        }
        packs_ += whole ? 1U : 0U;
        return Done{};
    }

    Outcome take_certificate(const std::filesystem::path& file, Checked& checked) {
        const std::string name = file.string();
        const auto bytes = read_file(file);
        if (!bytes) return bytes.fault();
        const auto text = report::read_attached_record(*bytes, name);
        if (!text) {
            add(name, false, text.fault().line());
            // Damage inside is the more telling when the seal says so too.
            return seals_.file(name, *bytes, "");
        }
        const auto found = report::read_attachment(*bytes, name, std::string(report::attached_as_found_name));
        if (found) checked.as_found_text = *found;
        add_record(*text, checked);
        const auto record = report::record_from_json(*text, name);
        if (record && found)
            if (const auto as_found = report::record_from_json(*found, name))
                seals_.record(name, *as_found, *found, true);
        return seals_.file(name, *bytes, record ? record->number : "", record ? record->issued_on : "");
    }

    void add_record(const std::string& text, Checked& checked) {
        auto record = report::record_from_json(text, checked.file);
        if (!record) {
            add(checked.file, false, record.fault().line());
            return;
        }
        seals_.record(checked.file, *record, text, checked.kind == FileKind::certificate);
        checked.sha256 = report::sha256_hex(text);
        checked.record_text = report::record_to_json(*record);
        if (checked.record_text != text)
            add(checked.file, false, "its record is not in the program's own form: it was edited");
        // The results must follow from the record's own observations.
        const auto follows = results_follow(*record);
        note_otherwise(follows);
        add(checked.file, follows.agreement != report::Agreement::beyond_rounding,
            "record of gauge " + record->identity.serial + ": " +
                agreement_words(follows, record->program_version, "its results follow from its observations",
                                "its results do not follow from its own observations") +
                reserved(*record) + "; fingerprint " + checked.sha256);
        checked.recomputed = holds(follows);
        checked.record = std::move(*record);
        checked_.push_back(std::move(checked));
    }

    // The finding that is added next rests on another version of the program.
    void note_otherwise(const report::RecordAgreement& agreement) {
        if (agreement.agreement == report::Agreement::otherwise_by_version)
            otherwise_.push_back(findings_.size());
    }

    // What stands with reservation, and who accepted it.
    static std::string reserved(const report::Record& record) {
        std::string out;
        for (const std::string& note : report::reservation_notes(record))
            out += (out.empty() ? ", with reservation: " : ", ") + note;
        if (!out.empty() && record.acceptance)
            out += " (accepted by " + record.acceptance->by + ": " + record.acceptance->reason + ")";
        return out;
    }

    void compare_with_journal(const Checked& journal, Checked& other) {
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
        again.acceptance = other.record->acceptance;
        const auto same = record_agreement(other.record_text, again);
        other.from_journal = other.from_journal || holds(same);
        note_otherwise(same);
        add(other.file, same.agreement != report::Agreement::beyond_rounding,
            agreement_words(same, other.record->program_version,
                            "equals what the journal " + journal.file + " gives",
                            "differs from what the journal " + journal.file + " gives"));
    }

    const CommonOptions& common_;
    const seal::PublicKeys* keys_;
    std::vector<Checked> checked_;
    std::vector<std::string> taken_;
    std::size_t packs_ = 0;                                    // whole
    std::vector<std::pair<std::string, std::string>> tables_;  // name, bytes
    std::vector<Finding> findings_;
    std::vector<std::size_t> otherwise_;  // places in findings_
    RegisterProof register_;
    SealCheck seals_;
};

ExitCode verify(const CommonOptions& common, const VerifyOptions& options) {
    if (options.files.empty() && options.location.empty())
        return fail(common,
                    {FaultCode::usage, "nothing is given to check", "verify", "name files, or --register"});
    const auto keys = find_public_keys(options.keys);
    if (!keys) return fail(common, keys.fault());
    Verifier verifier(common, *keys ? &**keys : nullptr, options.keys_named);
    for (const auto& file : options.files) {
        if (auto taken = verifier.take(file); !taken) return fail(common, taken.fault());
    }
    if (auto done = verifier.compare(); !done) return fail(common, done.fault());
    if (!options.location.empty())
        if (auto done = verifier.take_register(options.location); !done) return fail(common, done.fault());
    const auto& findings = verifier.findings();
    const bool ok =
        std::all_of(findings.begin(), findings.end(), [](const Finding& finding) { return finding.ok; });
    const Proof proof = verifier.proof();
    nlohmann::ordered_json document = {{"ok", ok},
                                       {"proved", proved(proof)},
                                       {"not_proved", not_proved(proof)},
                                       {"findings", nlohmann::ordered_json::array()}};
    for (const auto& finding : findings) {
        document["findings"].push_back({{"file", finding.file}, {"ok", finding.ok}, {"text", finding.text}});
        if (!common.json) {
            print_to(stdout, "%-6s %s: %s\n", finding.ok ? "ok" : "WRONG", finding.file.c_str(),
                     finding.text.c_str());
        }
    }
    if (common.json)
        print_json(document);
    else
        print_to(stdout, "%s\n", closing_sentence(proof));
    return ok ? ExitCode::done : ExitCode::disagrees;
}

}  // namespace

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

}  // namespace tipwright::program
