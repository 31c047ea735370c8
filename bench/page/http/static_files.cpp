#include "bench/page/http/static_files.hpp"

#include "report/files/files.hpp"

namespace tipwright::page {

namespace {

constexpr std::size_t most_bytes = 128u << 10;

constexpr std::pair<const char*, const char*> files[] = {
    {"page.css", "text/css; charset=utf-8"},
    {"page.js", "text/javascript; charset=utf-8"},
    {"icon.svg", "image/svg+xml"},
    {"openapi.json", "application/json"},
};

}  // namespace

Result<StaticFiles> StaticFiles::load(const std::filesystem::path& templates) {
    StaticFiles out;
    for (const auto& [name, type] : files) {
        auto bytes =
            read_file(templates / "page" / name, most_bytes, "it belongs to the program's templates");
        if (!bytes) return bytes.fault();
        out.files_[name] = {type, std::move(*bytes)};
    }
    return out;
}

const StaticFile* StaticFiles::find(std::string_view name) const {
    const auto found = files_.find(name);
    return found == files_.end() ? nullptr : &found->second;
}

}  // namespace tipwright::page
