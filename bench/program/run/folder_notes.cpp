#include "bench/program/run/folder_notes.hpp"

#include "bench/descriptions/reading.hpp"
#include "report/files/files.hpp"

namespace tipwright::program {

Outcome each_note(const std::filesystem::path& file, const char* tables,
                  const std::function<void(bench::TomlTable&)>& take) {
    std::error_code ignored;
    if (!std::filesystem::exists(file, ignored)) return Done{};
    const auto text = read_file(file);
    if (!text) return text.fault();
    const Result<bench::TomlValue> tree = bench::parse_toml({file.string(), *text});
    if (!tree) return tree.fault();
    bench::FaultList faults(file.string());
    bench::TomlTable root(&*tree, {}, "", faults);
    if (root.has("version")) root.text("version");  // judged by parse_toml
    for (bench::TomlTable& one : root.tables(tables)) {
        take(one);
        one.finish();
    }
    root.finish();
    if (!faults.empty()) return faults.first();
    return Done{};
}

}  // namespace tipwright::program
