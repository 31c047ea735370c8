// The project's own files, as text, for tests that read them.
#pragma once

#include <filesystem>
#include <fstream>
#include <map>
#include <sstream>
#include <string>

#include "tests/support/paths.hpp"

namespace tipwright::test {

inline std::string content_of(const std::filesystem::path& file) {
    std::ifstream in(file, std::ios::binary);
    std::stringstream out;
    out << in.rdbuf();
    return out.str();
}

// Of calib, report and bench, each by its path from the top.
inline std::map<std::string, std::string> source_files() {
    const std::filesystem::path top = source_dir();
    std::map<std::string, std::string> out;
    for (const char* room : {"calib", "report", "bench"})
        for (const auto& entry : std::filesystem::recursive_directory_iterator(top / room))
            if (entry.path().extension() == ".cpp" || entry.path().extension() == ".hpp")
                out[entry.path().lexically_relative(top).generic_string()] = content_of(entry.path());
    return out;
}

}  // namespace tipwright::test
