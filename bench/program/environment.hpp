// The environment, as commands ask it. Secrets are never taken from there.
#pragma once

#include <filesystem>
#include <string>

namespace tipwright::program {

// Empty: not set, or set to nothing.
std::string environment(const char* name);
// The person's folder of this program: below what `variable` names (XDG Base Directory Specification), else
// below `usual` in their home.
std::filesystem::path own_folder(const char* variable, const char* usual);

}  // namespace tipwright::program
