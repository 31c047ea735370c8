#include "bench/program/run/work_folder.hpp"

#include <algorithm>
#include <charconv>
#include <fstream>
#include <tuple>

#include "bench/program/run/lane_run.hpp"

namespace tipwright::program {

namespace {

namespace fs = std::filesystem;

constexpr std::string_view found_word = "-found";
constexpr std::string_view left_word = "-left";
constexpr std::size_t day_length = 10;
constexpr int most_runs_a_day = 999;

std::string run_name(const std::string& day, bool as_left, int number) {
    std::string name = day + std::string(as_left ? left_word : found_word);
    return number == 1 ? name : name + "-" + std::to_string(number);
}

// False: no name that new_run_folder gives.
bool read_name(const std::string& name, KeptRun& run) {
    if (name.size() <= day_length) return false;
    run.day = name.substr(0, day_length);
    std::string_view rest = std::string_view(name).substr(day_length);
    run.as_left = rest.starts_with(left_word);
    if (!run.as_left && !rest.starts_with(found_word)) return false;
    rest.remove_prefix(run.as_left ? left_word.size() : found_word.size());
    if (rest.empty()) return true;
    if (rest.front() != '-') return false;
    rest.remove_prefix(1);
    const auto [end, error] = std::from_chars(rest.data(), rest.data() + rest.size(), run.number);
    return error == std::errc{} && end == rest.data() + rest.size() && run.number > 1;
}

// The last line of its journal says that the run was complete.
bool came_to_its_end(const fs::path& journal) {
    constexpr std::streamoff enough = 4096;
    std::ifstream in(journal, std::ios::binary | std::ios::ate);
    const std::streamoff size = in.tellg();
    if (!in || size <= 0) return false;
    const std::streamoff from = size > enough ? size - enough : 0;
    std::string text(static_cast<std::size_t>(size - from), '\0');
    in.seekg(from);
    in.read(text.data(), static_cast<std::streamsize>(text.size()));
    while (text.ends_with('\n')) text.pop_back();
    const std::string last = text.substr(text.rfind('\n') == std::string::npos ? 0 : text.rfind('\n') + 1);
    return in.good() && last.find(" close ") != std::string::npos &&
           last.find(" complete=true") != std::string::npos;
}

}  // namespace

std::string folder_name(const std::string& serial) {
    std::string out;
    for (const char c : serial) {
        const bool plain = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') ||
                           c == '-' || c == '_' || (c == '.' && !out.empty());
        out += plain ? c : '_';
    }
    return out.empty() ? "_" : out;
}

std::vector<KeptRun> kept_runs(const fs::path& work, const std::string& serial) {
    std::vector<KeptRun> out;
    std::error_code error;
    for (fs::directory_iterator at(work / folder_name(serial), error), end; !error && at != end;
         at.increment(error)) {
        KeptRun run;
        if (!read_name(at->path().filename().string(), run)) continue;
        std::error_code ignored;
        if (!fs::exists(at->path() / journal_name, ignored)) continue;
        run.folder = at->path();
        run.written = fs::last_write_time(at->path() / journal_name, ignored);
        run.complete = fs::exists(at->path() / "record.json", ignored);
        run.measured = run.complete || came_to_its_end(at->path() / journal_name);
        out.push_back(std::move(run));
    }
    std::sort(out.begin(), out.end(), [](const KeptRun& a, const KeptRun& b) {
        return std::tie(a.day, a.written, a.as_left, a.number) <
               std::tie(b.day, b.written, b.as_left, b.number);
    });
    return out;
}

fs::path new_run_folder(const fs::path& work, const std::string& serial, const std::string& day,
                        bool as_left) {
    fs::path folder;
    std::error_code ignored;
    for (int number = 1; number <= most_runs_a_day; ++number) {
        folder = work / folder_name(serial) / run_name(day, as_left, number);
        if (!fs::exists(folder, ignored)) break;
    }
    return folder;
}

Round newest_round(const std::vector<KeptRun>& runs) {
    Round out;
    for (const KeptRun& run : runs) {
        if (!run.complete) continue;
        if (!run.as_left) out = {run.folder, {}};
        if (run.as_left) out.left = run.folder;
    }
    return out;
}

}  // namespace tipwright::program
