// What a gauge read before, for a certificate that is about to be issued. Private to report/register.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "report/register/certificates.hpp"
#include "report/register/impl.hpp"

namespace tipwright::report {

// Throws Stop where the document is missing or damaged. `name`: for the fault.
Record stored_record(Register::Impl& impl, const std::string& sha256, const std::string& name);

struct Past {
    std::vector<EarlierCurve> history;  // oldest first
    std::optional<calib::LargestDrift>
        drift;  // since the last of them, where the gauge was measured as found
};
// `but`: the certificate that is replaced or amended.
Past look_back(Register::Impl& impl, const RecordRow& record, const std::optional<Record>& found, Id but);

}  // namespace tipwright::report
