// Seal: what shows that a certificate's record, and each file given out with it, is as the laboratory issued
// it. The record's seal is an Ed25519 signature over a short statement: number, SHA-256 of the canonical
// record (the fingerprint), key. It fits a QR code, so a phone shows number and fingerprint, and `tipwright`
// checks them offline with the laboratory's public keys. The date of issue is signed with them: a key seals
// from the day it is made to the day it ends, and no later. A file's seal stands in the file's own last line
// (a comment in PDF, XML and text) and covers every byte before it; that line is checked to the letter, so
// any changed byte is told. A PDF may carry an X.509 signature as well (pdf_signature.hpp). Numbers: capital
// letters, digits and single hyphens, at most 40. Faults: damaged (what was changed), unknown_field (key not
// in the list), inconsistent (the key was not in use then, or nothing tells when), syntax, missing_field (no
// seal there).
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "calib/base/fault.hpp"
#include "report/seal/keys.hpp"
#include "report/seal/record_seal.hpp"
#include "report/seal/x509.hpp"

namespace tipwright::seal {

bool is_certificate_number(std::string_view text);

// SHA-256 of the canonical record; where a certificate shows as found and as left, of the as-left record's
// bytes followed by the as-found record's.
std::string fingerprint_of(std::string_view record, std::string_view as_found_record = {});

Seal seal_record(const std::string& number, const std::string& fingerprint, const std::string& issued_on,
                 const SigningKey& key);
// Number, fingerprint, date and key belong together, and the key was in use. Says nothing of a record.
Outcome check_seal(const Seal& seal, const PublicKeys& keys);
// And the record is the one that was sealed.
Outcome check_record(const Seal& seal, const PublicKeys& keys, std::string_view record,
                     std::string_view as_found_record = {});
// The register keeps a signature as bytes: those of version 1.0 as they are. Later versions put theirs
// before.
std::string signature_to_store(const Seal& seal);
void take_stored_signature(Seal& seal, std::string_view stored, const std::string& issued_on);

// "TIPWRIGHT SEAL 1.0 NO ... SHA256 ... ON ... KEY ... SIG ...", about 250 characters of a QR code's
// alphanumeric set.
std::string qr_text(const Seal& seal);
Result<Seal> seal_from_qr_text(std::string_view text);

// The same as a small text file, for who keeps seals apart: "seal.txt" of a station pack.
std::string seal_text(const Seal& seal);
Result<Seal> seal_from_text(std::string_view text, const std::string& name);

// The last line of a sealed file, without its dress: "tipwright-file-seal 1.0 ...".
inline constexpr std::string_view file_heading = "tipwright-file-seal ";
enum class FileKind { pdf, xml, text };
struct FileSeal {
    FileKind kind = FileKind::text;
    std::string number;
    std::size_t size = 0;  // bytes covered
    std::string sha256;
    std::string key_id;
    std::string issued_on;                      // ISO date
    std::optional<CertificateFacts> signed_by;  // of a PDF with X.509 signature
};
// The bytes with their seal as last line.
std::string seal_file(FileKind kind, std::string_view bytes, const std::string& number,
                      const std::string& issued_on, const SigningKey& key);
Result<FileSeal> check_file(std::string_view bytes, const PublicKeys& keys, const std::string& name);

}  // namespace tipwright::seal
