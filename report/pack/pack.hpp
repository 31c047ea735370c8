// Station pack: what goes with a station: for each of its gauges one folder with the certificate (PDF), the
// DCC (XML), the sealed record(s), the correction as table and as formula, and the seal; beside them a table
// of contents and a list of checksums (as sha256sum reads it). Every file is sealed by the laboratory or
// follows from those that are, so a pack needs no key to be made, and any changed byte is told. That no
// certificate was taken out is told only where the table of contents is sealed too.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "calib/base/fault.hpp"
#include "report/register/register.hpp"
#include "report/seal/keys.hpp"

namespace tipwright::report::pack {

inline constexpr std::string_view certificate_name = "certificate.pdf";
inline constexpr std::string_view dcc_name = "certificate.xml";
inline constexpr std::string_view record_name = "record.json";
inline constexpr std::string_view as_found_name = "record-as-found.json";
inline constexpr std::string_view correction_name = "correction.csv";
inline constexpr std::string_view formula_name = "formula.txt";
inline constexpr std::string_view seal_name = "seal.txt";
inline constexpr std::string_view contents_name = "contents.txt";
inline constexpr std::string_view checksums_name = "SHA256SUMS";
// What the seal of a table of contents bears where others bear a certificate's number; no certificate has it.
inline constexpr std::string_view list_number = "PACK";
inline constexpr std::size_t max_certificates = 1000;
inline constexpr std::size_t max_pack_bytes = std::size_t{1} << 30;

struct File {
    std::string path;  // "B1-2031-00001/record.json"
    std::string bytes;
};

// Files of one issued certificate, in a folder of its number. Faults: those of the register.
Result<std::vector<File>> certificate_files(Register& reg, const std::string& number);

struct MakeOptions {
    const seal::SigningKey* key = nullptr;  // seals the table of contents; null: it is not sealed
    std::string sealed_on;                  // ISO date
    bool replaced_too = false;              // certificates that another has replaced
};
// The whole pack, ordered by path. Faults: too many certificates, not_permitted (one was replaced), those of
// the register.
Result<std::vector<File>> make(Register& reg, const std::vector<std::string>& numbers,
                               const MakeOptions& options = {});

struct Finding {
    std::string path;  // empty: the pack
    bool ok = true;
    std::string text;
};

// The table of contents is sealed: that no certificate was taken out is proved when check() finds all well.
bool list_is_sealed(const std::vector<File>& files, const seal::PublicKeys& keys);
// What every file of a pack was found to be. Nothing more, nothing changed, no file of a certificate missing:
// all ok.
std::vector<Finding> check(const std::vector<File>& files, const seal::PublicKeys& keys);

}  // namespace tipwright::report::pack
