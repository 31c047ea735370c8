#include "bench/program/run/records_meant.hpp"

#include <string>

#include "bench/program/run/work_folder.hpp"

namespace tipwright::program {

namespace {

// Nothing where it is a file or a folder.
Round round_meant(const std::filesystem::path& given, const std::filesystem::path& work) {
    std::error_code ignored;
    return std::filesystem::exists(given, ignored) ? Round{} : newest_round(kept_runs(work, given.string()));
}

}  // namespace

Result<std::filesystem::path> record_meant(const std::filesystem::path& given,
                                           const std::filesystem::path& work, bool as_left) {
    std::error_code ignored;
    if (std::filesystem::is_directory(given, ignored)) return given / "record.json";
    if (std::filesystem::exists(given, ignored)) return given;
    const Round round = round_meant(given, work);
    const std::filesystem::path& run = as_left ? round.left : round.found;
    if (!run.empty()) return run / "record.json";
    return Fault{FaultCode::file_missing,
                 std::string("there is neither such a record nor a complete as-") +
                     (as_left ? "left" : "found") + " run of such a gauge in " + in_quotes(work.string()),
                 given.string(), "give the record, or calibrate first"};
}

std::vector<std::filesystem::path> runs_meant(const std::vector<std::filesystem::path>& given,
                                              const std::filesystem::path& work) {
    std::vector<std::filesystem::path> out;
    for (const auto& one : given) {
        const Round round = round_meant(one, work);
        for (const auto& run : {round.found, round.left})
            if (!run.empty()) out.push_back(run);
        if (round.found.empty() && round.left.empty()) out.push_back(one);
    }
    return out;
}

std::vector<std::filesystem::path> records_meant(const std::vector<std::filesystem::path>& given,
                                                 const std::filesystem::path& work) {
    std::vector<std::filesystem::path> out = runs_meant(given, work);
    std::error_code ignored;
    for (auto& one : out)
        if (std::filesystem::is_directory(one, ignored)) one /= "record.json";
    return out;
}

}  // namespace tipwright::program
