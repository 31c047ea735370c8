// Manual: the pages of `man` for the program and each of its subcommands, made from the same descriptions as
// --help. The build asks for them by `tipwright manual DIR`.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "calib/base/fault.hpp"

namespace CLI {
class App;
}

namespace tipwright::program {

struct ManualPage {
    std::string name;  // "tipwright-certificate-issue"
    std::string text;  // roff, with the macros of man(7)
};

// The page of the program first, then those of its subcommands and of theirs. Hidden ones have none.
std::vector<ManualPage> manual_pages(const CLI::App& app);
// Writes NAME.1 of each into a folder that is there. Fault: file_unwritable.
Outcome write_manual(const CLI::App& app, const std::filesystem::path& folder);

}  // namespace tipwright::program
