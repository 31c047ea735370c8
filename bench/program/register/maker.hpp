// Maker: the documents of a certificate as it is issued: PDF with seal, DCC XML, tables and formula for the
// logger; or the PDF of a draft, to look at.
#pragma once

#include <map>
#include <string>

#include "bench/program/common_options.hpp"
#include "report/certificate/certificate.hpp"
#include "report/register/register.hpp"
#include "report/seal/keys.hpp"
#include "report/seal/x509.hpp"

namespace tipwright::program {

struct Layout {
    std::string language = "en";  // a file of templates/certificate/, or the path of a words file
    std::string paper = "A4";
    std::string budgets = "largest";   // or "all"
    std::filesystem::path letterhead;  // empty: none
    std::string country;               // of the laboratory; empty: the letterhead's
};

class CertificateMaker {
public:
    // Faults of the words, the letterhead and its picture.
    static Result<CertificateMaker> load(const CommonOptions& common, const Layout& layout);

    // SHA-256 of the files of certificates that others refer to, by number; the DCC names it.
    void know_earlier(const std::string& number, const std::string& sha256) { earlier_[number] = sha256; }

    // A place in the PDF for this signer's signature, made at `moment`.
    void sign_with(const seal::X509Key& signer, const std::string& moment);

    // What a certificate of this record needs beside the record is there. Faults: missing_field (the
    // laboratory, its country), not_permitted (on a trial's time, a record that is not invented).
    Outcome can_issue(const report::Record& record) const;
    // On any number of threads at once.
    Result<report::Documents> documents(const report::IssueSheet& sheet, const seal::SigningKey& key) const;
    // Of an issued certificate; `language`: in which it was issued.
    Result<std::string> translation(const report::Certificate& certificate, const report::Record& record,
                                    const std::optional<report::Record>& as_found,
                                    const std::string& language) const;
    Result<std::string> draft(const report::Certificate& certificate, const report::Record& record,
                              const std::optional<report::Record>& as_found) const;

private:
    report::CertificateOptions options_;
    std::string country_;
    std::map<std::string, std::string> earlier_;
};

}  // namespace tipwright::program
