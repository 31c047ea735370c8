// Passphrases: asked for at the terminal without echo, or read from a file or an open descriptor; never from
// the command line, where others would see them.
#pragma once

#include <filesystem>
#include <optional>
#include <string>

#include "bench/program/common_options.hpp"
#include "calib/base/fault.hpp"
#include "report/seal/passphrase.hpp"

namespace tipwright::program {

struct PassphraseSource {
    std::filesystem::path file;
    std::optional<int> descriptor;
    std::string option = "passphrase";  // as the command line calls it
};

// One line of text. Fault: usage (no terminal), not_permitted (others may read the file), bad_value (empty,
// too long), interrupted. Says on standard error, once, where its memory cannot be locked.
Result<seal::Passphrase> read_passphrase(const PassphraseSource& source, const std::string& prompt);
// A new one, asked for again when typed; none that is guessed at once, as the names of who works and of a
// laboratory in the descriptions of benches are. Fault, beside those: bad_value.
Result<seal::Passphrase> read_new_passphrase(const CommonOptions& common, const PassphraseSource& source,
                                             const std::string& prompt);
// On standard error, once.
void tell_unlocked_memory();

}  // namespace tipwright::program
