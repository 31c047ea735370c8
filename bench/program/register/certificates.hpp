// Certificates at the session: records in, draft, layout, check, issue, amend, replace, hand out.
#pragma once

#include "bench/program/register/keys.hpp"
#include "bench/program/register/maker.hpp"
#include "bench/program/register/session.hpp"
#include "bench/program/results/record_source.hpp"

namespace tipwright::program {

// Writes the files of a certificate into a folder of its number under `folder`.
Outcome write_certificate(report::Register& reg, const std::string& number,
                          const std::filesystem::path& folder);

}  // namespace tipwright::program
