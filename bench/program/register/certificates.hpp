// Handing out the files of an issued certificate.
#pragma once

#include <filesystem>
#include <string>

#include "report/register/register.hpp"

namespace tipwright::program {

// Writes the files of a certificate into a folder of its number under `folder`.
Outcome write_certificate(report::Register& reg, const std::string& number,
                          const std::filesystem::path& folder);

}  // namespace tipwright::program
