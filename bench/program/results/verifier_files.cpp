// Verifier: taking files in, each judged by itself.
#include <algorithm>
#include <array>
#include <iostream>

#include "bench/journal/file_name.hpp"
#include "bench/journal/reader.hpp"
#include "bench/program/results/evaluate_journal.hpp"
#include "bench/program/results/read_record.hpp"
#include "bench/program/results/verifier.hpp"
#include "report/files/files.hpp"
#include "report/files/fingerprint.hpp"
#include "report/pack/zip.hpp"
#include "report/record/certificate_reader.hpp"
#include "report/record/record_json.hpp"
#include "report/record/statement_of.hpp"
#include "report/tables/tables.hpp"

namespace tipwright::program {

namespace {

constexpr std::size_t most_files = 20000;
// What the program itself calls its files, the tables of a run apart.
constexpr std::array<std::string_view, 6> own_names{bench::journal_name, "record.json", "certificate.pdf",
                                                    "certificate.xml",   "seal.txt",    "formula.txt"};
constexpr const char* no_file = "is a pipe, a socket or a device: nothing can be said of it";

// Of what can be named at all; whatever is not there is told by whoever opens it.
bool is_no_file(const std::filesystem::path& path) {
    std::error_code error;
    return std::filesystem::is_other(path, error);
}

bool is_called_as_ours(const std::filesystem::path& file) {
    const std::string name = file.filename().string();
    const auto tables = report::run_tables();
    return std::find(own_names.begin(), own_names.end(), name) != own_names.end() ||
           std::any_of(tables.begin(), tables.end(), [&](const auto& table) { return table.file == name; }) ||
           file.extension() == std::filesystem::path(bench::journal_name).extension();
}

}  // namespace

Outcome Verifier::take(const std::filesystem::path& file) {
    std::error_code error;
    if (file == "-") return take_standard_input();
    if (std::filesystem::is_directory(file, error)) return take_folder(file);
    if (is_no_file(file)) {
        cannot_judge(file.string(), no_file);
        return Done{};
    }
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

Outcome Verifier::take_journal(const std::filesystem::path& file, Checked& checked) {
    std::vector<GivenText> given;
    const auto summary = bench::read_journal(file, [&](const bench::JournalEntry& entry) -> Outcome {
        checked.says_state = checked.says_state || entry.kind == "gauge";
        if (entry.kind == "given") {
            const std::string what = std::string(entry.field("what"));
            if (given.empty() || given.back().what != what) given.push_back({checked.file, what, ""});
            given.back().text += std::string(entry.field("text")) + "\n";
        }
        return Done{};
    });
    given_.insert(given_.end(), given.begin(), given.end());
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

Outcome Verifier::take_record(const std::filesystem::path& file, Checked& checked) {
    const auto text = read_file(file, report::max_record_bytes);
    if (!text) return text.fault();
    checked.file_sha256 = report::sha256_hex(*text);
    add_record(*text, checked);
    record_folders_.insert(file.parent_path());
    return Done{};
}

// One seal stands for both records of a certificate, and for none of them alone: what of the three lies
// beside one that was named is taken with it.
Outcome Verifier::take_sealed_together() {
    std::error_code ignored;
    // By what they are: a file may have been named by another way than its folder's.
    std::set<std::filesystem::path> taken;
    for (const std::string& name : taken_) taken.insert(std::filesystem::canonical(name, ignored));
    for (const auto& folder : record_folders_) {
        if (!std::filesystem::is_regular_file(folder / report::pack::seal_name, ignored)) continue;
        for (const auto name :
             {report::pack::record_name, report::pack::as_found_name, report::pack::seal_name}) {
            const auto file = folder / name;
            if (!std::filesystem::is_regular_file(file, ignored) ||
                !taken.insert(std::filesystem::canonical(file, ignored)).second)
                continue;
            if (auto done = take(file); !done) return done;
        }
    }
    return Done{};
}

Outcome Verifier::take_standard_input() {
    // The text of square codes, as a reader hands it over: one a line.
    std::string text(longest_seal_text + 1, '\0');
    std::cin.read(text.data(), static_cast<std::streamsize>(text.size()));
    text.resize(static_cast<std::size_t>(std::cin.gcount()));
    taken_.push_back("standard input");
    return seals_.text("standard input", text);
}

Outcome Verifier::take_seal(const std::filesystem::path& file) {
    const auto text = read_file(file, longest_seal_text);
    return text ? seals_.text(file.string(), *text) : text.fault();
}

Outcome Verifier::take_table(const std::filesystem::path& file) {
    const auto bytes = read_file(file, report::max_record_bytes);
    if (!bytes) return bytes.fault();
    tables_.emplace_back(file.string(), *bytes);
    return bytes->find("tipwright-file-seal") == std::string::npos ? Outcome(Done{})
                                                                   : seals_.file(file.string(), *bytes, "");
}

Outcome Verifier::take_sealed(const std::filesystem::path& file) {
    const auto bytes = read_file(file);
    if (!bytes) return bytes.fault();
    if (bytes->size() <= longest_seal_text && ("\n" + *bytes).find("\nTIPWRIGHT SEAL ") != std::string::npos)
        return seals_.text(file.string(), *bytes);
    if (bytes->find("tipwright-file-seal") == std::string::npos && kind_of_bytes(*bytes) == FileKind::other) {
        if (is_called_as_ours(file))
            add(file.string(), false, "is named like a file of the program, but is not one: it was changed");
        else
            others_.emplace_back(file.string(), *bytes);
        return Done{};
    }
    return seals_.file(file.string(), *bytes, "");
}

Outcome Verifier::take_zip(const std::filesystem::path& file) {
    const auto bytes = read_file(file, report::pack::max_pack_bytes);
    if (!bytes) return bytes.fault();
    const auto files = report::pack::unzip(*bytes, file.string());
    if (!files) {
        add(file.string(), false, files.fault().what);
        return Done{};
    }
    return take_pack(file, *files);
}

Outcome Verifier::take_folder(const std::filesystem::path& folder) {
    std::error_code error;
    const bool is_pack = std::filesystem::exists(folder / report::pack::checksums_name, error);
    std::vector<std::filesystem::path> paths;
    std::filesystem::recursive_directory_iterator it(folder, error);
    for (; !error && it != std::filesystem::recursive_directory_iterator(); it.increment(error)) {
        if (!it->is_directory(error)) paths.push_back(it->path());
        if (it->is_symlink(error) || paths.size() > most_files)
            return Fault{FaultCode::bad_value, "holds links, or more files than a pack", it->path().string(),
                         "name a pack as it was made"};
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
        if (is_no_file(path)) {
            add(path.string(), false, no_file);  // a pack holds nothing else
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

Outcome Verifier::take_pack(const std::filesystem::path& pack, const std::vector<report::pack::File>& files) {
    if (keys_ == nullptr)
        return Fault{FaultCode::missing_field, "a pack is checked with the laboratory's public keys",
                     pack.string(), "give them with --public-keys"};
    taken_.push_back(pack.string());
    if (Outcome known = know_words(); !known) return known;
    // Not an operator of paths: a name inside that begins at the root stays inside.
    const auto inside = [&](const std::string& path) { return pack.string() + "/" + path; };
    bool whole = true;
    for (const auto& finding : report::pack::check(files, *keys_)) {
        whole = whole && finding.ok;
        add(finding.path.empty() ? pack.string() : inside(finding.path), finding.ok, finding.text);
    }
    packs_ += whole ? 1U : 0U;
    unsealed_lists_ += whole && !report::pack::list_is_sealed(files, *keys_) ? 1U : 0U;
    for (const auto& file : files)
        seals_.in_pack(inside(file.path), file.bytes,
                       std::filesystem::path(file.path).filename() == report::pack::seal_name);
    return Done{};
}

Outcome Verifier::take_certificate(const std::filesystem::path& file, Checked& checked) {
    const std::string name = file.string();
    if (Outcome known = know_words(); !known) return known;
    const auto bytes = read_file(file);
    if (!bytes) return bytes.fault();
    checked.file_sha256 = report::sha256_hex(*bytes);
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

void Verifier::add_record(const std::string& text, Checked& checked) {
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

std::string Verifier::reserved(const report::Record& record) {
    std::string out;
    for (const std::string& note : report::reservation_notes(record))
        out += (out.empty() ? ", with reservation: " : ", ") + note;
    if (!out.empty() && record.acceptance)
        out += " (accepted by " + record.acceptance->by + ": " + record.acceptance->reason + ")";
    return out;
}

}  // namespace tipwright::program
