#include "bench/program/run/lanes_round.hpp"

#include <map>

#include "bench/descriptions/reading.hpp"
#include "bench/program/run/folder_notes.hpp"
#include "bench/program/run/work_folder.hpp"
#include "report/files/files.hpp"

namespace tipwright::program {

namespace {

namespace fs = std::filesystem;

fs::path round_file(const fs::path& work, const std::string& lanes) {
    return work / ("lanes-" + folder_name(fs::path(lanes).stem().string()) + ".toml");
}

// By lane, below the work folder. Empty: no round is under way.
Result<std::map<std::string, fs::path>> round_under_way(const fs::path& file) {
    std::map<std::string, fs::path> out;
    const Outcome read = each_note(file, "lane", [&](bench::TomlTable& lane) {
        const std::string name = lane.text("name");
        out[name] = lane.text("run");
    });
    if (!read) return read.fault();
    return out;
}

// The same gauge in the same state: a file of lanes may have been changed meanwhile.
bool is_run_of(const fs::path& run, const RoundLane& lane) {
    return run.parent_path() == folder_name(lane.serial) &&
           run.filename().string().find(lane.as_left ? "-left" : "-found") != std::string::npos;
}

}  // namespace

Result<std::vector<fs::path>> folders_of_round(const fs::path& work, const std::string& lanes,
                                               const std::vector<RoundLane>& wanted) {
    const fs::path file = round_file(work, lanes);
    const auto before = round_under_way(file);
    if (!before) return before.fault();
    std::string text =
        "# The round of lanes that has not come to its end: the same command goes on with it.\nversion = "
        "\"1.0\"\n";
    std::vector<fs::path> out;
    for (const RoundLane& lane : wanted) {
        const auto run = before->find(lane.name);
        const bool goes_on = run != before->end() && is_run_of(run->second, lane);
        out.push_back(goes_on ? work / run->second
                              : new_run_folder(work, lane.serial, lane.day, lane.as_left));
        if (auto made = make_folder(out.back()); !made) return made.fault();
        text += "\n[[lane]]\nname = " + bench::toml_quoted(lane.name) +
                "\nrun = " + bench::toml_quoted(out.back().lexically_relative(work).string()) + "\n";
    }
    if (auto written = write_file(file, text); !written) return written.fault();
    return out;
}

void end_round(const fs::path& work, const std::string& lanes) {
    std::error_code ignored;
    fs::remove(round_file(work, lanes), ignored);
}

}  // namespace tipwright::program
