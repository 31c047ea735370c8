// Completion: what may stand at the place where somebody presses the tabulator key. The shells' own files
// (bench/package/completion) ask for it by `tipwright complete WORDS...`. It is quick and never complains.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

namespace CLI {
class App;
}

namespace tipwright::program {

struct WhereNamesAre {
    std::filesystem::path templates;
    std::string location;  // of the register that knows serials, numbers and names
    std::filesystem::path work;
};

// `words`: those after the program's name; the last, which may be empty, is being typed. Candidates in order;
// none where the shell's own completion by file names is what helps.
std::vector<std::string> candidates(const CLI::App& app, const std::vector<std::string>& words,
                                    const WhereNamesAre& where);

}  // namespace tipwright::program
