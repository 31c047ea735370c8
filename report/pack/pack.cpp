#include "report/pack/pack.hpp"

#include <algorithm>
#include <map>

#include "calib/base/joined.hpp"
#include "report/files/fingerprint.hpp"
#include "report/record/certificate_reader.hpp"
#include "report/record/record_json.hpp"
#include "report/record/statement_of.hpp"

namespace tipwright::report::pack {

namespace {

bool by_path(const File& a, const File& b) {
    return a.path < b.path;
}

// As `sha256sum` writes it: text of every file but the list itself.
std::string checksum_list(const std::vector<File>& files) {
    std::string out;
    for (const File& file : files)
        if (file.path != checksums_name) out += sha256_hex(file.bytes) + "  " + file.path + "\n";
    return out;
}

std::string or_none(const std::string& text) {
    return text.empty() ? "(none)" : visible(text);
}

// 1.0 called every document a certificate.
enum class Form { current, of_1_0 };

// Of which quantities the document shows that they are traceable to the SI, and of which it cannot.
std::string shown_traceable(const Record& record, bool wanted) {
    const calib::Traceability& trace = record.statement.traceability;
    std::string out;
    for (const auto& [of, name] : {std::pair{trace.mass, "mass"},
                                   {trace.volume, "volume"},
                                   {trace.time, "time"},
                                   {trace.temperature, "temperature"},
                                   {trace.length, "length"}})
        if (of != calib::Trace::not_needed && (of == calib::Trace::named) == wanted)
            add_part(out, name, ", ");
    return out;
}

// One document's entry in the table of contents. as_found: it has a record from before an adjustment too.
std::string contents_entry(const Record& record, bool as_found, Form form = Form::current) {
    std::string out = record.number + "\n";
    const auto line = [&](const char* name, const std::string& value) {
        out += std::string("    ") + name + or_none(value) + "\n";
    };
    if (form == Form::current) {
        std::string kind{calib::document_names.at(static_cast<std::size_t>(record.statement.document))};
        std::replace(kind.begin(), kind.end(), '_', ' ');
        line("document    ", kind);
    }
    line("gauge       ", record.identity.model + ", serial " + record.identity.serial);
    line("customer    ", record.customer.name);
    line("station     ", record.identity.station);
    const bool both = as_found && form == Form::current;
    line("state       ", both                              ? "as found and as left"
                         : record.state == State::as_found ? "as found"
                                                           : "as left");
    line("calibrated  ", record.ended_at.substr(0, 10));
    line("issued      ", record.issued_on);
    line(record.origin == Origin::supplied_data ? "supplied by " : "laboratory  ", record.laboratory.name);
    if (form == Form::current) {
        line("traceable   ", shown_traceable(record, true));
        if (const std::string not_shown = shown_traceable(record, false); !not_shown.empty())
            line("not shown   ", not_shown);
    }
    for (const std::string& note : reservation_notes(record)) line("reserved    ", note);
    if (record.acceptance) line("accepted    ", record.acceptance->by + ": " + record.acceptance->reason);
    return out;
}

std::string contents_text(const std::vector<std::string>& entries, Form form = Form::current) {
    const bool old = form == Form::of_1_0;
    std::string out =
        old ? "tipwright station pack 1.0\n\nOne folder for each certificate:\n\n"
              "    certificate.pdf       the certificate; the record travels inside\n"
            : "tipwright station pack 1.1\n\nOne folder for each document:\n\n"
              "    certificate.pdf       the certificate or report; the record travels inside\n";
    out +=
        "    certificate.xml       the same for machines (Digital Calibration Certificate)\n"
        "    record.json           the record that is sealed; record-as-found.json: before adjustment\n"
        "    correction.csv        correction for the logger, as a table\n"
        "    formula.txt           the same as a formula, with a worked example\n"
        "    seal.txt              seal of the record, as in the square code on the certificate\n\n"
        "Check all of it with: tipwright verify --public-keys PUBLIC-KEYS-OF-THE-LABORATORY THIS-PACK\n\n";
    for (const std::string& entry : entries) out += entry;
    return out;
}

constexpr std::string_view seal_of_list = "\n# tipwright-file-seal ";

// The table of contents without the line that seals it.
std::string_view without_seal(std::string_view contents) {
    const std::size_t at = contents.rfind(seal_of_list);
    return at == std::string_view::npos ? contents : contents.substr(0, at + 1);
}

Outcome check_list(std::string_view contents, const seal::PublicKeys& keys) {
    const auto seal = seal::check_file(contents, keys, std::string(contents_name));
    if (!seal) return seal.fault();
    if (seal->kind != seal::FileKind::text || seal->number != list_number)
        return Fault{FaultCode::inconsistent, "is sealed as a file of certificate " + seal->number,
                     std::string(contents_name), ""};
    return Done{};
}

// Files of a pack or of one folder in it, by name.
using ByName = std::map<std::string, const File*, std::less<>>;

class Checker {
public:
    Checker(const std::vector<File>& files, const seal::PublicKeys& keys) : files_(files), keys_(keys) {}

    std::vector<Finding> check() {
        ByName top;
        std::map<std::string, ByName> folders;
        for (const File& file : files_) {
            const std::size_t slash = file.path.find('/');
            auto& place = slash == std::string::npos ? top : folders[file.path.substr(0, slash)];
            const std::string name = slash == std::string::npos ? file.path : file.path.substr(slash + 1);
            if (!place.emplace(name, &file).second) add(file.path, false, "is in the pack twice");
        }
        if (folders.empty()) add("", false, "holds no certificate");
        for (const auto& [number, folder] : folders) check_folder(number, folder);
        check_top(top);
        return std::move(findings_);
    }

private:
    void add(const std::string& path, bool ok, const std::string& text) {
        findings_.push_back({path, ok, text});
    }

    const File* need(const ByName& folder, const std::string& prefix, std::string_view name) {
        const auto found = folder.find(name);
        if (found != folder.end()) return found->second;
        add(prefix + std::string(name), false, "is missing");
        return nullptr;
    }

    // A file with its own seal, of this certificate.
    bool sealed(const File& file, const std::string& number, seal::FileKind kind) {
        const auto seal = seal::check_file(file.bytes, keys_, file.path);
        if (!seal) {
            add(file.path, false, seal.fault().what);
            return false;
        }
        if (seal->number != number || seal->kind != kind) {
            add(file.path, false, "belongs to certificate " + seal->number);
            return false;
        }
        // A text bears its kind in its first line, not in its seal.
        const bool table = file.bytes.starts_with("# tipwright correction ");
        const bool is_formula = file.path.ends_with(formula_name);
        if (kind == seal::FileKind::text && (is_formula ? file.bytes.starts_with("# tipwright ") : !table)) {
            add(file.path, false,
                "is another text of certificate " + number + ", sealed but not under this name");
            return false;
        }
        add(file.path, true, "as the laboratory sealed it");
        return true;
    }

    void check_folder(const std::string& number, const ByName& folder) {
        const std::string prefix = number + "/";
        for (const auto& [name, file] : folder)
            if (name != certificate_name && name != dcc_name && name != record_name &&
                name != as_found_name && name != correction_name && name != formula_name && name != seal_name)
                add(file->path, false, "does not belong in a pack");
        check_record(number, folder);
        if (const File* pdf = need(folder, prefix, certificate_name)) {
            const bool whole = sealed(*pdf, number, seal::FileKind::pdf);
            if (whole) check_inside(*pdf, folder);
        }
        if (const File* xml = need(folder, prefix, dcc_name)) sealed(*xml, number, seal::FileKind::xml);
        if (const File* formula = need(folder, prefix, formula_name))
            sealed(*formula, number, seal::FileKind::text);
        if (const auto table = folder.find(correction_name); table != folder.end())
            sealed(*table->second, number, seal::FileKind::text);
    }

    void check_record(const std::string& number, const ByName& folder) {
        const std::string prefix = number + "/";
        const File* record = need(folder, prefix, record_name);
        const File* seal_file = need(folder, prefix, seal_name);
        if (record == nullptr || seal_file == nullptr) return;
        const auto seal = seal::seal_from_text(seal_file->bytes, seal_file->path);
        if (!seal) {
            add(seal_file->path, false, seal.fault().what);
            return;
        }
        const auto found = folder.find(as_found_name);
        const auto read = record_from_json(record->bytes, record->path);
        const auto good = seal::check_record(
            *seal, keys_, record->bytes, found == folder.end() ? std::string_view() : found->second->bytes);
        if (!good) {
            add(record->path, false, good.fault().what);
            return;
        }
        if (read && read->issued_on != seal->issued_on) {
            add(record->path, false,
                "says it was issued on " + read->issued_on + ", its seal " + seal->issued_on);
            return;
        }
        if (!read || seal->number != number || read->number != number) {
            add(record->path, false, "belongs to certificate " + seal->number);
            return;
        }
        if (read->evaluation.correction && folder.find(correction_name) == folder.end())
            add(prefix + std::string(correction_name), false, "is missing");
        add(record->path, true,
            "record of gauge " + read->identity.serial + ", as the laboratory sealed it with key " +
                seal->key_id);
        add(seal_file->path, true, "the seal of this record");
        const bool as_found = folder.find(as_found_name) != folder.end();
        entries_.push_back(contents_entry(*read, as_found));
        old_entries_.push_back(contents_entry(*read, as_found, Form::of_1_0));
    }

    // The record inside the certificate is the one beside it.
    void check_inside(const File& pdf, const ByName& folder) {
        for (const auto& [name, attached] : {std::pair{record_name, attached_record_name},
                                             std::pair{as_found_name, attached_as_found_name}}) {
            const auto beside = folder.find(name);
            if (beside == folder.end()) continue;
            const auto attachment = read_attachment(pdf.bytes, pdf.path, std::string(attached));
            if (!attachment || *attachment != beside->second->bytes)
                add(pdf.path, false, "carries another record than " + beside->second->path);
        }
    }

    void check_top(const ByName& top) {
        for (const auto& [name, file] : top)
            if (name != contents_name && name != checksums_name)
                add(file->path, false, "does not belong in a pack");
        if (const File* contents = need(top, "", contents_name)) {
            const std::string_view said = without_seal(contents->bytes);
            const bool sealed = said.size() < contents->bytes.size();
            const bool same =
                said == contents_text(entries_) || said == contents_text(old_entries_, Form::of_1_0);
            const Outcome whole = sealed ? check_list(contents->bytes, keys_) : Outcome(Done{});
            if (!whole)
                add(contents->path, false, whole.fault().what);
            else
                add(contents->path, same,
                    !same    ? "does not match the contents of the pack"
                    : sealed ? "matches the contents of the pack, as the laboratory sealed it"
                             : "matches the contents of the pack; it is not sealed");
        }
        if (const File* list = need(top, "", checksums_name)) {
            std::vector<File> ordered = files_;
            std::sort(ordered.begin(), ordered.end(), by_path);
            const bool same = list->bytes == checksum_list(ordered);
            add(list->path, same, same ? "every checksum fits" : "the checksums do not fit the files");
        }
    }

    const std::vector<File>& files_;
    const seal::PublicKeys& keys_;
    std::vector<Finding> findings_;
    std::vector<std::string> entries_;
    std::vector<std::string> old_entries_;
};

}  // namespace

Result<std::vector<File>> certificate_files(Register& reg, const std::string& number) {
    const auto certificate = reg.certificate(number);
    if (!certificate) return certificate.fault();
    std::vector<File> out;
    std::optional<Fault> lacking;
    const auto take = [&](std::string_view name, const std::string& sha256) {
        if (sha256.empty() || lacking) return;
        auto bytes = reg.document(sha256);
        if (!bytes)
            lacking = bytes.fault();
        else
            out.push_back({number + "/" + std::string(name), std::move(*bytes)});
    };
    take(certificate_name, certificate->pdf_sha256);
    take(dcc_name, certificate->xml_sha256);
    take(record_name, certificate->record_sha256);
    take(as_found_name, certificate->as_found_sha256);
    for (const NamedDocument& other : certificate->others) take(other.name, other.sha256);
    if (lacking) return *lacking;
    out.push_back({number + "/" + std::string(seal_name), seal::seal_text(*certificate->seal)});
    std::sort(out.begin(), out.end(), by_path);
    return out;
}

Result<std::vector<File>> make(Register& reg, const std::vector<std::string>& numbers,
                               const MakeOptions& options) {
    if (numbers.empty())
        return Fault{FaultCode::missing_field, "no certificate to pack", "pack", "issue one first"};
    if (numbers.size() > max_certificates)
        return Fault{FaultCode::bad_value,
                     std::to_string(numbers.size()) + " certificates; a pack holds at most " +
                         std::to_string(max_certificates),
                     "pack", "make a pack for each station"};
    std::vector<std::string> ordered = numbers;
    std::sort(ordered.begin(), ordered.end());
    ordered.erase(std::unique(ordered.begin(), ordered.end()), ordered.end());
    std::vector<File> out;
    std::vector<std::string> entries;
    std::size_t size = 0;
    for (const std::string& number : ordered) {
        const auto certificate = reg.certificate(number);
        if (!certificate) return certificate.fault();
        if (!certificate->superseded_by.empty() && !options.replaced_too)
            return Fault{FaultCode::not_permitted,
                         "certificate " + number + " is void: " + certificate->superseded_by + " replaced it",
                         "pack", "pack that one"};
        auto files = certificate_files(reg, number);
        if (!files) return files.fault();
        const bool as_found = std::any_of(files->begin(), files->end(), [&](const File& file) {
            return file.path == number + "/" + std::string(as_found_name);
        });
        for (File& file : *files) {
            if (file.path == number + "/" + std::string(record_name)) {
                const auto record = record_from_json(file.bytes, file.path);
                if (!record) return record.fault();
                entries.push_back(contents_entry(*record, as_found));
            }
            size += file.bytes.size();
            out.push_back(std::move(file));
        }
        if (size > max_pack_bytes)
            return Fault{FaultCode::file_too_large,
                         "more than " + std::to_string(max_pack_bytes >> 20) + " MiB", "pack",
                         "make a pack for each station"};
    }
    const std::string list = contents_text(entries);
    out.push_back({std::string(contents_name),
                   options.key == nullptr
                       ? list
                       : seal::seal_file(seal::FileKind::text, list, std::string(list_number),
                                         options.sealed_on, *options.key)});
    std::sort(out.begin(), out.end(), by_path);
    out.push_back({std::string(checksums_name), checksum_list(out)});
    std::sort(out.begin(), out.end(), by_path);
    return out;
}

bool list_is_sealed(const std::vector<File>& files, const seal::PublicKeys& keys) {
    return std::any_of(files.begin(), files.end(), [&](const File& file) {
        return file.path == contents_name && check_list(file.bytes, keys);
    });
}

std::vector<Finding> check(const std::vector<File>& files, const seal::PublicKeys& keys) {
    return Checker(files, keys).check();
}

}  // namespace tipwright::report::pack
