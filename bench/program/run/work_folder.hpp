// The folder of the runs, as the settings name it: one folder a gauge below it, one below that a run, called
// after its day and state ("2026-11-02-found", "2026-11-02-left-2"). Whoever names another folder for a run
// (--out) need not remember it: a run right below the work folder or its gauge's is known by its journal, and
// one elsewhere is noted (runs_elsewhere.hpp).
#pragma once

#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

namespace tipwright::program {

// How the reason in the journal of a run that somebody gave up begins.
inline constexpr std::string_view closed_as_incomplete = "closed as incomplete: ";

struct KeptRun {
    std::filesystem::path folder;
    std::string serial;
    std::string day;
    bool as_left = false;
    int number = 1;                           // of its day and state
    std::filesystem::file_time_type written;  // its journal, last
    bool complete = false;                    // with a record
    bool measured = false;                    // its journal tells that it came to its end
    bool given_up = false;                    // somebody closed it as incomplete
};

// A serial as the name of a folder: what could leave the work folder or trouble a shell becomes "_".
std::string folder_name(const std::string& serial);
// Oldest first: by day, then by when the journal was last written.
std::vector<KeptRun> kept_runs(const std::filesystem::path& work, const std::string& serial);
// Of every gauge, in no order; of runs that are called after day and state the serial is their folder's name.
std::vector<KeptRun> all_kept_runs(const std::filesystem::path& work);
// A folder that is not there yet.
std::filesystem::path new_run_folder(const std::filesystem::path& work, const std::string& serial,
                                     const std::string& day, bool as_left);
// Of the newest round: the last complete as-found run, and the last complete as-left one after it. Empty:
// none.
struct Round {
    std::filesystem::path found;
    std::filesystem::path left;
};
Round newest_round(const std::vector<KeptRun>& runs);

}  // namespace tipwright::program
