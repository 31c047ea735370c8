#include "bench/program/templates_place.hpp"

#include <system_error>

namespace tipwright::program {

namespace fs = std::filesystem;

fs::path templates_beside(const fs::path& executable) {
    const fs::path folder = executable.parent_path();
    const fs::path share = fs::path("share") / "tipwright" / "templates";
    fs::path installed = folder.parent_path() / share;
    std::error_code error;
    if (!fs::is_directory(installed, error) && fs::is_directory(folder / share, error)) return folder / share;
    return installed;
}

fs::path templates_place() {
    std::error_code error;
    const fs::path executable = fs::read_symlink("/proc/self/exe", error);
    return error ? fs::path("/usr/share/tipwright/templates") : templates_beside(executable);
}

}  // namespace tipwright::program
