// Handing out the files of an issued certificate.
#pragma once

#include <filesystem>
#include <functional>
#include <string>

#include "bench/program/register/maker.hpp"

namespace tipwright::program {

// From the newest complete runs of a gauge in the work folder. `reason`: why reservations are accepted.
// Fault: file_missing (there is no such run), those of drafting.
Result<report::Id> draft_of_newest_runs(const CommonOptions& common, report::Register& reg,
                                        const report::Actor& actor, const std::string& serial,
                                        const std::filesystem::path& work, const std::string& bench,
                                        const std::string& reason);

// A draft that rests on the records of an issued certificate and replaces it. `reason` stands on its first
// page.
Result<report::Id> draft_replacement(const CommonOptions& common, report::Register& reg,
                                     const report::Actor& actor, const std::string& number,
                                     const std::string& reason, const std::string& bench);

// The PDF of a draft.
Result<std::string> drawing_of_draft(const CommonOptions& common, report::Register& reg, report::Id draft,
                                     const Layout& layout);

struct Sealing {
    std::filesystem::path keys;
    std::string bench;  // code in the number
    Layout layout;
    std::string reason;  // why reservations are accepted
    std::string
        check_gauge;  // serial number: nothing is issued while it is out of control; empty: none is asked
    std::function<void(const std::string&)> warn = {};  // told what report::IssueOptions::warn says
};
Result<report::Issued> issue_one(const CommonOptions& common, report::Register& reg,
                                 const report::Actor& actor, report::Id draft,
                                 const seal::Passphrase& passphrase, const Sealing& sealing);

// Writes the files of a certificate into a folder of its number under `folder`. Fault, but for those of
// writing: duplicate, where another file is there and `force` does not say that it goes.
Outcome write_certificate(report::Register& reg, const std::string& number,
                          const std::filesystem::path& folder, bool force = false);

}  // namespace tipwright::program
