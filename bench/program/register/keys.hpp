// Keys of the seal: make, list, rotate, revoke, hand out the public ones, change the passphrase.
#pragma once

#include "bench/program/register/passphrase.hpp"
#include "bench/program/register/session.hpp"
#include "report/seal/keys.hpp"

namespace tipwright::program {

struct KeysOptions {
    std::filesystem::path folder;  // empty: the user's own
    PassphraseSource passphrase;
    PassphraseSource new_passphrase;
    std::filesystem::path out;
    std::string key;   // to revoke
    std::string from;  // ISO date; empty: today
    std::string why;
};

std::filesystem::path keys_folder(const std::filesystem::path& given);
// Where it is noted which numbers were given.
std::filesystem::path issued_numbers_file(const std::filesystem::path& folder);

ExitCode make_keys(const CommonOptions& common, const KeysOptions& options);
ExitCode list_keys(const CommonOptions& common, const KeysOptions& options);
ExitCode rotate_keys(const CommonOptions& common, const KeysOptions& options);
ExitCode revoke_key(const CommonOptions& common, const KeysOptions& options);
ExitCode change_passphrase(const CommonOptions& common, const KeysOptions& options);
ExitCode export_keys(const CommonOptions& common, const KeysOptions& options);

}  // namespace tipwright::program
