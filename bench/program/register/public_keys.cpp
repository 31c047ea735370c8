#include "bench/program/register/public_keys.hpp"

#include "bench/program/environment.hpp"
#include "bench/program/register/keys.hpp"

namespace tipwright::program {

Result<std::optional<seal::PublicKeys>> find_public_keys(const std::filesystem::path& given) {
    std::error_code error;
    std::filesystem::path file = given;
    if (given.empty()) file = environment("TIPWRIGHT_KEYS");
    if (file.empty()) {
        file = keys_folder({}) / seal::public_keys_name;
        if (!std::filesystem::exists(file, error)) return std::optional<seal::PublicKeys>();
    } else if (std::filesystem::is_directory(file, error)) {
        file = file / seal::public_keys_name;
    }
    auto keys = seal::PublicKeys::read(file.string());
    if (!keys) return keys.fault();
    return std::optional(std::move(*keys));
}

}  // namespace tipwright::program
