#include "report/seal/seal.hpp"

#include <array>
#include <charconv>
#include <cstring>
#include <stdexcept>

#include "calib/base/dates.hpp"
#include "calib/base/format_version.hpp"
#include "calib/base/text.hpp"
#include "report/seal/digest.hpp"
#include "report/seal/encoding.hpp"
#include "report/seal/lines.hpp"
#include "report/seal/pdf_signature.hpp"

namespace tipwright::seal {
namespace {

constexpr std::size_t key_id_digits = 16;
constexpr std::size_t digest_digits = 64;
constexpr std::size_t signature_digits = 128;
constexpr FormatVersion newest_seal{1, 0};
constexpr std::string_view seal_heading = "tipwright seal ";

std::string upper(std::string_view text) {
    std::string out(text);
    for (char& c : out)
        if (c >= 'a' && c <= 'z') c = static_cast<char>(c - 'a' + 'A');
    return out;
}

bool is_hex(std::string_view text, std::size_t digits) {
    return text.size() == digits && from_hex(text).has_value();
}

std::string statement(const Seal& seal) {
    std::string out(seal_heading);
    out.append(newest_seal.text())
        .append("\nnumber ")
        .append(seal.number)
        .append("\nrecord ")
        .append(seal.fingerprint);
    return out.append("\non ").append(seal.issued_on).append("\nkey ").append(seal.key_id).append("\n");
}

SignatureBytes signature_bytes(std::string_view digits) {
    SignatureBytes out{};
    if (const auto bytes = from_hex(digits); bytes && bytes->size() == out.size())
        std::memcpy(out.data(), bytes->data(), out.size());
    return out;
}

Fault unknown_key(const std::string& id, const std::string& where) {
    return {FaultCode::unknown_field,
            "sealed with key " + in_quotes(id) + ", which is not among the public keys given", where,
            "ask the laboratory for its present list of public keys"};
}

Result<Seal> checked(Seal seal, const std::string& where) {
    if (!is_certificate_number(seal.number))
        return Fault{FaultCode::bad_value, in_quotes(seal.number) + " is not a certificate number", where,
                     ""};
    if (!is_hex(seal.fingerprint, digest_digits))
        return Fault{FaultCode::bad_value, "the fingerprint is not 64 hex digits", where, ""};
    if (!is_hex(seal.key_id, key_id_digits))
        return Fault{FaultCode::bad_value, "the key's id is not 16 hex digits", where, ""};
    if (!is_hex(seal.signature, signature_digits))
        return Fault{FaultCode::bad_value, "the signature is cut short or changed", where, ""};
    if (!is_iso_date(seal.issued_on))
        return Fault{FaultCode::bad_value, in_quotes(seal.issued_on) + " is no date", where, ""};
    return seal;
}

struct Dress {  // how a seal line is written in a kind of file
    std::string_view before;
    std::string_view after;
};

constexpr std::array<Dress, 3> dresses{{{"%", "\n"}, {"<!-- ", " -->\n"}, {"# ", "\n"}}};

std::string file_statement(const FileSeal& seal) {
    std::string out(file_heading);
    out.append(newest_seal.text())
        .append(" number ")
        .append(seal.number)
        .append(" on ")
        .append(seal.issued_on);
    out.append(" size ").append(std::to_string(seal.size)).append(" sha256 ").append(seal.sha256);
    return out.append(" key ").append(seal.key_id);
}

}  // namespace

bool is_certificate_number(std::string_view text) {
    if (text.empty() || text.size() > 40 || text.front() == '-' || text.back() == '-') return false;
    char before = 0;
    for (const char c : text) {
        const bool letter = (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9');
        if (!letter && (c != '-' || before == '-')) return false;
        before = c;
    }
    return true;
}

std::string fingerprint_of(std::string_view record, std::string_view as_found_record) {
    Sha256 digest;
    digest.add(record);
    digest.add(as_found_record);
    return to_hex(digest.bytes());
}

Seal seal_record(const std::string& number, const std::string& fingerprint, const std::string& issued_on,
                 const SigningKey& key) {
    if (!is_certificate_number(number) || !is_hex(fingerprint, digest_digits) || !is_iso_date(issued_on))
        throw std::invalid_argument("seal_record: number, fingerprint or date is none");
    Seal seal{number, fingerprint, key.public_key().id, "", issued_on};
    seal.signature = to_hex(key.sign(statement(seal)));
    return seal;
}

Outcome check_seal(const Seal& seal, const PublicKeys& keys) {
    const std::string where = "seal of certificate " + seal.number;
    if (Result<Seal> good = checked(seal, where); !good) return good.fault();
    const PublicKey* key = keys.find(seal.key_id);
    if (key == nullptr) return unknown_key(seal.key_id, where);
    if (!verify(*key, statement(seal), signature_bytes(seal.signature)))
        return Fault{FaultCode::damaged,
                     "the signature does not fit number and fingerprint: the seal was changed or made up",
                     where, "do not rely on this certificate; ask the laboratory"};
    return check_in_use(*key, seal.issued_on, where);
}

Outcome check_record(const Seal& seal, const PublicKeys& keys, std::string_view record,
                     std::string_view as_found_record) {
    if (Outcome good = check_seal(seal, keys); !good) return good;
    const std::string found = fingerprint_of(record, as_found_record);
    if (found != seal.fingerprint)
        return Fault{FaultCode::damaged,
                     "the record was changed after it was sealed: its fingerprint is " + found.substr(0, 16) +
                         "..., sealed was " + seal.fingerprint.substr(0, 16) + "...",
                     "record of certificate " + seal.number,
                     "do not rely on this certificate; ask the laboratory"};
    return Done{};
}

std::string signature_to_store(const Seal& seal) {
    const SignatureBytes signature = signature_bytes(seal.signature);
    return {reinterpret_cast<const char*>(signature.data()), signature.size()};
}

void take_stored_signature(Seal& seal, std::string_view stored, const std::string& issued_on) {
    seal.issued_on = issued_on;
    seal.signature = to_hex(stored);
}

std::string qr_text(const Seal& seal) {
    const SignatureBytes signature = signature_bytes(seal.signature);
    std::string out = "TIPWRIGHT SEAL ";
    out.append(newest_seal.text())
        .append(" NO ")
        .append(seal.number)
        .append(" SHA256 ")
        .append(upper(seal.fingerprint))
        .append(" ON ")
        .append(seal.issued_on);
    return out.append(" KEY ")
        .append(upper(seal.key_id))
        .append(" SIG ")
        .append(to_base32({reinterpret_cast<const char*>(signature.data()), signature.size()}));
}

Result<Seal> seal_from_qr_text(std::string_view text) {
    const std::string where = "QR code";
    // A reader or a terminal may hand over a line feed at the end.
    while (!text.empty() && (text.back() == '\n' || text.back() == '\r')) text.remove_suffix(1);
    const std::string line = std::string(text) + "\n";
    LineReader reader(line, where);
    reader.next();
    const std::vector<std::string> words = text.size() > 1000 ? std::vector<std::string>{} : reader.words();
    if (words.size() > 2 && words[0] == "TIPWRIGHT" && words[1] == "SEAL")
        if (const auto version = readable_version(words[2], newest_seal, "seal", where); !version)
            return version.fault();
    if (words.size() != 13 || words[0] != "TIPWRIGHT" || words[1] != "SEAL" || words[3] != "NO" ||
        words[5] != "SHA256" || words[7] != "ON" || words[9] != "KEY" || words[11] != "SIG")
        return Fault{FaultCode::syntax, "not the text of a tipwright seal: " + in_quotes(text), where, ""};
    const auto signature = from_base32(words[12]);
    if (words[6] != upper(words[6]) || words[10] != upper(words[10]) || !signature || !is_iso_date(words[8]))
        return Fault{FaultCode::syntax, "the text of the seal was changed", where, ""};
    return checked(
        {words[4], small_letters(words[6]), small_letters(words[10]), to_hex(*signature), words[8]}, where);
}

std::string seal_text(const Seal& seal) {
    return statement(seal) + "signature " + seal.signature + "\n";
}

Result<Seal> seal_from_text(std::string_view text, const std::string& name) {
    LineReader lines(text, name);
    if (!lines.next() || !lines.line().starts_with(seal_heading))
        return lines.fault(FaultCode::syntax, "not a tipwright seal");
    const auto version =
        readable_version(lines.line().substr(seal_heading.size()), newest_seal, "seal", name + ":1");
    if (!version) return version.fault();
    Seal seal;
    const std::array<std::pair<std::string_view, std::string*>, 5> fields{{{"number", &seal.number},
                                                                           {"record", &seal.fingerprint},
                                                                           {"on", &seal.issued_on},
                                                                           {"key", &seal.key_id},
                                                                           {"signature", &seal.signature}}};
    for (const auto& [field, value] : fields) {
        const std::vector<std::string> words = lines.next() ? lines.words() : std::vector<std::string>{};
        if (words.size() != 2 || words[0] != field || (field == "on" && !is_iso_date(words[1])))
            return lines.fault(FaultCode::syntax, "expected \"" + std::string(field) + " ...\"");
        *value = words[1];
    }
    if (lines.next()) return lines.fault(FaultCode::syntax, "text after the seal");
    return checked(std::move(seal), name);
}

std::string seal_file(FileKind kind, std::string_view bytes, const std::string& number,
                      const std::string& issued_on, const SigningKey& key) {
    if (!is_certificate_number(number) || !is_iso_date(issued_on))
        throw std::invalid_argument("seal_file: number or date is none");
    std::string out(bytes);
    if (out.empty() || out.back() != '\n') out.push_back('\n');
    const FileSeal seal{kind, number, out.size(), sha256_hex(out), key.public_key().id, issued_on, {}};
    const Dress& dress = dresses[static_cast<std::size_t>(kind)];
    const std::string said = file_statement(seal);
    return out.append(dress.before)
        .append(said)
        .append(" signature ")
        .append(to_hex(key.sign(said)))
        .append(dress.after);
}

Result<FileSeal> check_file(std::string_view bytes, const PublicKeys& keys, const std::string& name) {
    const Fault none{FaultCode::missing_field, "no seal in the file's last line", name,
                     "the file was never sealed, or was changed or cut short at its end"};
    const std::size_t start = bytes.size() < 2 ? std::string_view::npos : bytes.rfind('\n', bytes.size() - 2);
    if (start == std::string_view::npos || bytes.size() - start > 600) return none;
    const std::string_view body = bytes.substr(0, start + 1);
    const std::string_view last = bytes.substr(start + 1);
    for (std::size_t kind = 0; kind < dresses.size(); ++kind) {
        const Dress& dress = dresses[kind];
        if (!last.starts_with(dress.before) || !last.ends_with(dress.after)) continue;
        const std::string line =
            std::string(
                last.substr(dress.before.size(), last.size() - dress.before.size() - dress.after.size())) +
            "\n";
        LineReader reader(line, name);
        reader.next();
        const std::vector<std::string> words = reader.words();
        if (words.size() < 2 || words[0] + " " != file_heading) continue;
        if (const auto version = readable_version(words[1], newest_seal, "seal", name); !version)
            return version.fault();
        if (kind == static_cast<std::size_t>(FileKind::pdf) && words.size() > 8 && words[8] == "but")
            return check_signed_pdf(body, last, words, keys, name);
        FileSeal seal;
        if (words.size() != 14 || words[4] != "on" || !is_iso_date(words[5])) continue;
        seal.issued_on = words[5];
        seal.kind = static_cast<FileKind>(kind);
        seal.number = words[3];
        const auto [end, error] =
            std::from_chars(words[7].data(), words[7].data() + words[7].size(), seal.size);
        seal.sha256 = words[9];
        seal.key_id = words[11];
        // Written again from what was read it must be the same to the letter.
        if (error != std::errc{} || end != words[7].data() + words[7].size() ||
            line != file_statement(seal) + " signature " + words[13] + "\n" ||
            !is_hex(words[13], signature_digits))
            return Fault{FaultCode::damaged, "the seal in the file's last line was changed", name,
                         "do not rely on this file; ask the laboratory"};
        const PublicKey* key = keys.find(seal.key_id);
        if (key == nullptr) return unknown_key(seal.key_id, name);
        if (!verify(*key, file_statement(seal), signature_bytes(words[13])))
            return Fault{FaultCode::damaged, "the signature does not fit: the seal was changed or made up",
                         name, "do not rely on this file; ask the laboratory"};
        if (seal.size != body.size() || seal.sha256 != sha256_hex(body))
            return Fault{FaultCode::damaged, "the file was changed after it was sealed", name,
                         "do not rely on this file; ask the laboratory"};
        if (Outcome in_use = check_in_use(*key, seal.issued_on, name); !in_use) return in_use.fault();
        return seal;
    }
    return none;
}

}  // namespace tipwright::seal
