#include "bench/program/run/runs_elsewhere.hpp"

#include <algorithm>

#include "bench/descriptions/reading.hpp"
#include "bench/program/run/folder_notes.hpp"
#include "bench/program/run/work_folder.hpp"
#include "report/files/files.hpp"

namespace tipwright::program {

namespace {

namespace fs = std::filesystem;

// Whoever says nothing of a work folder has this one.
constexpr const char* usual_work = "work";

fs::path note_of(const fs::path& work, const std::string& serial) {
    return work / notes_folder / (folder_name(serial) + ".toml");
}

fs::path in_full(const fs::path& path) {
    std::error_code ignored;
    const fs::path absolute = fs::absolute(path, ignored).lexically_normal();
    // "runs/" and "runs" are one folder.
    return absolute.has_filename() ? absolute : absolute.parent_path();
}

Result<std::vector<fs::path>> noted(const fs::path& file) {
    std::vector<fs::path> out;
    const Outcome read =
        each_note(file, "run", [&](bench::TomlTable& run) { out.emplace_back(run.text("folder")); });
    if (!read) return read.fault();
    return out;
}

// Right below the work folder, its gauge's own folder, or right below that.
bool known_by_itself(const fs::path& work, const std::string& serial, const fs::path& run) {
    return run.parent_path() == work || run.parent_path() == work / folder_name(serial);
}

}  // namespace

std::vector<fs::path> runs_elsewhere(const fs::path& work, const std::string& serial) {
    auto out = noted(note_of(work, serial));
    return out ? std::move(*out) : std::vector<fs::path>{};
}

Outcome note_run(const fs::path& work, const std::string& serial, const fs::path& run) {
    std::error_code ignored;
    if (serial.empty() || (work == usual_work && !fs::is_directory(work, ignored))) return Done{};
    const fs::path folder = in_full(run);
    if (known_by_itself(in_full(work), serial, folder)) return Done{};
    const fs::path file = note_of(work, serial);
    auto runs = noted(file);
    if (!runs) return runs.fault();
    if (std::find(runs->begin(), runs->end(), folder) != runs->end()) return Done{};
    runs->push_back(folder);
    std::string text =
        "# Runs of gauge " + visible(serial) + " whose folder was named with --out.\nversion = \"1.0\"\n";
    for (const fs::path& one : *runs)
        text += "\n[[run]]\nfolder = " + bench::toml_quoted(one.string()) + "\n";
    if (auto made = make_folder(file.parent_path()); !made) return made.fault();
    return write_file(file, text);
}

std::string not_noted(const fs::path& work, const Fault& why) {
    return "This run is not noted in " + work.string() + ", and is found by its folder alone: " + why.line();
}

}  // namespace tipwright::program
