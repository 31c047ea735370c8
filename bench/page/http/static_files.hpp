// The files of the page's looks and its description for programs, read from the templates once.
#pragma once

#include <filesystem>
#include <functional>
#include <map>
#include <string>
#include <string_view>

#include "calib/base/fault.hpp"

namespace tipwright::page {

struct StaticFile {
    std::string type;  // as HTTP names it
    std::string bytes;
};

class StaticFiles {
public:
    // Faults: those of reading a file.
    static Result<StaticFiles> load(const std::filesystem::path& templates);
    // "page.css"; null: there is none.
    const StaticFile* find(std::string_view name) const;
    // As OpenAPI 3.1 describes what programs may ask.
    const StaticFile& openapi() const { return *find("openapi.json"); }

private:
    std::map<std::string, StaticFile, std::less<>> files_;
};

}  // namespace tipwright::page
