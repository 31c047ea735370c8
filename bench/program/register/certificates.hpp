// Certificates at the session: records in, draft, layout, check, issue, amend, replace, hand out.
#pragma once

#include "bench/program/register/keys.hpp"
#include "bench/program/register/maker.hpp"
#include "bench/program/register/session.hpp"
#include "bench/program/results/record_source.hpp"

namespace tipwright::program {

inline constexpr const char* default_bench = "B1";

struct DraftOptions {
    Session session;
    std::vector<std::filesystem::path> records;  // or serials of gauges with runs in the work folder
    std::filesystem::path work = "work";
    RecordSources sources;
    std::string bench = default_bench;
    std::string reason;  // why reservations are accepted
};

// For commands about drafts that are there.
struct DraftsOptions {
    Session session;
    std::vector<std::int64_t> drafts;
    std::string why;
    Layout layout;
    std::filesystem::path out;
};

struct IssueOptions {
    Session session;
    std::vector<std::int64_t> drafts;
    bool all = false;
    std::string reason;  // why reservations are accepted
    std::string bench = default_bench;
    Layout layout;
    std::filesystem::path keys;
    PassphraseSource passphrase;
    std::filesystem::path out;  // empty: only into the register
    int threads = 0;            // 0: as many as the machine has
};

struct EarlierOptions {
    Session session;
    std::string number;
    std::string reason;
    std::vector<std::filesystem::path> records;  // empty: those of the earlier certificate
    RecordSources sources;
    std::vector<std::string> corrections;  // FIELD=TEXT
    std::string bench = default_bench;
    bool replace = false;
};

struct CertificateWish {
    Session session;
    std::string which;  // number, or a draft's id
    std::vector<std::string> numbers;
    report::ListFilter list;
    std::filesystem::path out;
    std::filesystem::path csv;
};

ExitCode draft_certificates(const CommonOptions& common, const DraftOptions& options);
ExitCode preview_certificate(const CommonOptions& common, const DraftsOptions& options);
ExitCode check_certificates(const CommonOptions& common, const DraftsOptions& options);
ExitCode send_back_certificates(const CommonOptions& common, const DraftsOptions& options);
ExitCode discard_certificates(const CommonOptions& common, const DraftsOptions& options);
ExitCode issue_certificates(const CommonOptions& common, const IssueOptions& options);
ExitCode follow_certificate(const CommonOptions& common, const EarlierOptions& options);
ExitCode show_certificate(const CommonOptions& common, const CertificateWish& options);
ExitCode list_certificates(const CommonOptions& common, const CertificateWish& options);
ExitCode export_certificates(const CommonOptions& common, const CertificateWish& options);

// Writes the files of a certificate into a folder of its number under `folder`.
Outcome write_certificate(report::Register& reg, const std::string& number,
                          const std::filesystem::path& folder);

}  // namespace tipwright::program
