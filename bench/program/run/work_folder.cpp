#include "bench/program/run/work_folder.hpp"

#include <algorithm>
#include <charconv>
#include <chrono>
#include <fstream>
#include <optional>
#include <tuple>

#include "bench/journal/closing_entry.hpp"
#include "bench/journal/file_name.hpp"
#include "bench/journal/reader.hpp"
#include "bench/program/run/runs_elsewhere.hpp"
#include "bench/run/replay.hpp"
#include "calib/base/dates.hpp"

namespace tipwright::program {

namespace {

namespace fs = std::filesystem;
using bench::journal_name;

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

// What only the files tell.
void look_at_files(KeptRun& run) {
    std::error_code ignored;
    run.written = fs::last_write_time(run.folder / journal_name, ignored);
    run.complete = fs::exists(run.folder / "record.json", ignored);
    const auto closing = bench::closing_entry(run.folder / journal_name);
    run.measured = run.complete || (closing && closing->complete);
    run.given_up = closing && closing->reason.starts_with(closed_as_incomplete);
}

bool holds_journal(const fs::path& folder) {
    std::error_code ignored;
    return fs::is_regular_file(folder / journal_name, ignored);
}

// A run by the head of its journal, whatever its folder is called. Nothing: no journal of a run that had
// begun.
std::optional<KeptRun> run_by_journal(const fs::path& folder) {
    bench::Replay replay;
    const auto read =
        bench::read_journal(folder / journal_name, [&](const bench::JournalEntry& entry) -> Outcome {
            if (auto taken = replay.take(entry); !taken) return taken;
            // Enough: what follows is the run itself.
            if (replay.begun()) return Fault{FaultCode::interrupted, "", "", ""};
            return Done{};
        });
    const bench::ReplayedRun& head = replay.so_far();
    if (!head.begun || (!read && read.fault().code != FaultCode::interrupted)) return std::nullopt;
    KeptRun run;
    run.folder = folder;
    run.serial = head.gauge.serial;
    run.day = head.started_at.substr(0, day_length);
    run.as_left = head.as_left.value_or(false);
    look_at_files(run);
    return run;
}

// Quick, for folders of many runs: false where the descriptions at the journal's head do not hold the serial.
bool may_be_of(const fs::path& folder, const std::string& serial) {
    constexpr std::size_t descriptions = 256u << 10;
    if (folder_name(serial) != serial) return true;  // may stand there in other letters
    std::ifstream in(folder / journal_name, std::ios::binary);
    std::string head(descriptions, '\0');
    in.read(head.data(), static_cast<std::streamsize>(head.size()));
    head.resize(static_cast<std::size_t>(in.gcount()));
    return head.find(serial) != std::string::npos;
}

// Those of one gauge's folder: called after day and state, or with a journal that names the gauge.
void add_runs_of(const fs::path& gauge_folder, const std::string& serial, std::vector<KeptRun>& out) {
    std::error_code error;
    for (fs::directory_iterator at(gauge_folder, error), end; !error && at != end; at.increment(error)) {
        if (!holds_journal(at->path())) continue;
        KeptRun run;
        if (read_name(at->path().filename().string(), run)) {
            run.folder = at->path();
            run.serial = serial;
            look_at_files(run);
            out.push_back(std::move(run));
        } else if (auto other = run_by_journal(at->path());
                   other && folder_name(other->serial) == folder_name(serial)) {
            out.push_back(std::move(*other));
        }
    }
}

void add_noted(const fs::path& work, const std::string& serial, std::vector<KeptRun>& out) {
    std::error_code ignored;
    for (const fs::path& folder : runs_elsewhere(work, serial)) {
        // A work folder that was chosen later may hold it.
        const bool known = std::any_of(out.begin(), out.end(), [&](const KeptRun& run) {
            return fs::equivalent(run.folder, folder, ignored);
        });
        if (known || !holds_journal(folder)) continue;
        if (auto run = run_by_journal(folder); run && folder_name(run->serial) == folder_name(serial))
            out.push_back(std::move(*run));
    }
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
    add_runs_of(work / folder_name(serial), serial, out);
    std::error_code error;
    for (fs::directory_iterator at(work, error), end; !error && at != end; at.increment(error))
        if (holds_journal(at->path()) && may_be_of(at->path(), serial))
            if (auto run = run_by_journal(at->path()); run && run->serial == serial)
                out.push_back(std::move(*run));
    add_noted(work, serial, out);
    std::sort(out.begin(), out.end(), [](const KeptRun& a, const KeptRun& b) {
        return std::tie(a.day, a.written, a.as_left, a.number) <
               std::tie(b.day, b.written, b.as_left, b.number);
    });
    return out;
}

std::vector<KeptRun> all_kept_runs(const fs::path& work) {
    std::vector<KeptRun> out;
    std::error_code error;
    for (fs::directory_iterator at(work, error), end; !error && at != end; at.increment(error)) {
        if (holds_journal(at->path()))
            if (auto run = run_by_journal(at->path())) out.push_back(std::move(*run));
        add_runs_of(at->path(), at->path().filename().string(), out);
    }
    error.clear();
    for (fs::directory_iterator at(work / notes_folder, error), end; !error && at != end; at.increment(error))
        add_noted(work, at->path().stem().string(), out);
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

namespace {

// From as found to as left, a gauge that waits for parts included: common practice, no source.
constexpr std::chrono::days longest_round(180);

bool lasts_longer_than_a_round(const std::string& found_on, const std::string& left_on) {
    const auto found = iso_date(found_on);
    const auto left = iso_date(left_on);
    return found && left && std::chrono::sys_days(*left) - std::chrono::sys_days(*found) > longest_round;
}

}  // namespace

Round newest_round(const std::vector<KeptRun>& runs) {
    Round out;
    std::string found_on;
    for (const KeptRun& run : runs) {
        if (!run.complete) continue;
        if (!run.as_left) {
            out = {run.folder, {}};
            found_on = run.day;
            continue;
        }
        // What was found in an earlier year is another certificate's.
        if (!out.found.empty() && lasts_longer_than_a_round(found_on, run.day)) out.found.clear();
        out.left = run.folder;
    }
    return out;
}

}  // namespace tipwright::program
