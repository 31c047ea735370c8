// Seal: what shows that a certificate's record, and each file given out with it, is as the laboratory issued
// it. The record's seal is an Ed25519 signature over a short statement: number, SHA-256 of the canonical
// record (the fingerprint), key. It fits a QR code, so a phone shows number and fingerprint, and `tipwright`
// checks them offline with the laboratory's public keys. A file's seal stands in the file's own last line (a
// comment in PDF, XML and text) and covers every byte before it; that line is checked to the letter, so any
// changed byte is told. Numbers: capital letters, digits and single hyphens, at most 40. Faults: damaged
// (what was changed), unknown_field (key not in the list), syntax, missing_field (no seal there).
#pragma once

#include <string>
#include <string_view>

#include "calib/base/fault.hpp"
#include "report/seal/keys.hpp"

namespace tipwright::seal {

struct Seal {
    std::string number;
    std::string fingerprint;  // 64 hex digits
    std::string key_id;
    std::string signature;  // 128 hex digits
    friend bool operator==(const Seal&, const Seal&) = default;
};

bool is_certificate_number(std::string_view text);

// SHA-256 of the canonical record; where a certificate shows as found and as left, of the as-left record's
// bytes followed by the as-found record's.
std::string fingerprint_of(std::string_view record, std::string_view as_found_record = {});

Seal seal_record(const std::string& number, const std::string& fingerprint, const SigningKey& key);
// Number, fingerprint and key belong together. Says nothing of a record.
Outcome check_seal(const Seal& seal, const PublicKeys& keys);
// And the record is the one that was sealed.
Outcome check_record(const Seal& seal, const PublicKeys& keys, std::string_view record,
                     std::string_view as_found_record = {});

// "TIPWRIGHT SEAL 1 NO ... SHA256 ... KEY ... SIG ...", about 235 characters of a QR code's alphanumeric set.
std::string qr_text(const Seal& seal);
Result<Seal> seal_from_qr_text(std::string_view text);

// The same as a small text file, for who keeps seals apart: "seal.txt" of a station pack.
std::string seal_text(const Seal& seal);
Result<Seal> seal_from_text(std::string_view text, const std::string& name);

enum class FileKind { pdf, xml, text };
struct FileSeal {
    FileKind kind = FileKind::text;
    std::string number;
    std::size_t size = 0;  // bytes covered
    std::string sha256;
    std::string key_id;
};
// The bytes with their seal as last line.
std::string seal_file(FileKind kind, std::string_view bytes, const std::string& number,
                      const SigningKey& key);
Result<FileSeal> check_file(std::string_view bytes, const PublicKeys& keys, const std::string& name);

}  // namespace tipwright::seal
