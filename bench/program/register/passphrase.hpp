// Passphrases: asked for at the terminal without echo, or read from a file or an open descriptor; never from
// the command line, where others would see them.
#pragma once

#include <filesystem>
#include <optional>
#include <string>

#include "calib/base/fault.hpp"
#include "report/seal/passphrase.hpp"

namespace tipwright::program {

struct PassphraseSource {
    std::filesystem::path file;
    std::optional<int> descriptor;
    std::string option = "passphrase";  // as the command line calls it
};

// One line of text. `twice`: a new one, asked for again when typed. Fault: usage (no terminal), not_permitted
// (others may read the file), bad_value (empty, too long, the two differ), interrupted.
Result<seal::Passphrase> read_passphrase(const PassphraseSource& source, const std::string& prompt,
                                         bool twice = false);

}  // namespace tipwright::program
