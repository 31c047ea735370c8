#include "bench/program/register/public_keys.hpp"

#include "bench/program/register/keys.hpp"
#include "bench/program/settings/settings.hpp"

namespace tipwright::program {

Result<std::optional<seal::PublicKeys>> find_public_keys(const std::filesystem::path& given) {
    std::error_code error;
    std::filesystem::path file = given;
    if (given.empty()) {
        const auto settings = Settings::load();
        if (!settings) return settings.fault();
        const auto named = settings->find("keys");
        if (named) file = named->value;
        // A workshop may name the place before it has keys there.
        if (named && named->origin != "TIPWRIGHT_KEYS" && !std::filesystem::exists(file, error)) file.clear();
    }
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
