// WorkFolder: all runs below one folder, as they stand now. Journals in it (journal.twj, up to two folders
// deep) that are not closed are followed as they grow, by inotify; of closed ones only the name is kept until
// somebody asks. Reads only. One thread: that of the context.
#pragma once

#include <boost/asio/io_context.hpp>
#include <filesystem>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "bench/journal/file_name.hpp"
#include "bench/page/live/live_run.hpp"

namespace tipwright::page {

using bench::journal_name;
// Followed at once. The oldest that ended makes room for another; where none has, the oldest that nobody
// writes.
inline constexpr std::size_t most_followed = 48;

struct EarlierRun {
    std::string id;
    std::string changed_at;  // UTC, of its journal
};

class WorkFolder {
public:
    // Called after entries came (false) or runs came or went (true); many entries may share one call.
    using Changed = std::function<void(bool runs_too)>;

    // Faults: file_missing, file_unreadable (the folder), and what inotify refuses. Without a judge nothing
    // is said of what came out.
    static Result<std::unique_ptr<WorkFolder>> open(boost::asio::io_context& context,
                                                    const std::filesystem::path& folder, Changed changed,
                                                    Judge judge = {});
    ~WorkFolder();

    const std::filesystem::path& folder() const;
    // Followed ones, by name.
    std::vector<RunFacts> runs();
    // Earlier ones that somebody looked at lately.
    std::vector<RunFacts> looked_at();
    // Newest first.
    std::vector<EarlierRun> earlier() const;
    // Followed or earlier; null: there is none of that name. An earlier one is read now (and kept for a
    // while). Valid until the next call.
    LiveRun* find(const std::string& id);
    bool held(const std::string& id) const;
    // Only of a name that find() knows.
    std::filesystem::path journal_of(const std::string& id) const;
    // Looks for new runs without being told (a file system that tells nothing).
    void look_again();

private:
    struct State;
    explicit WorkFolder(std::unique_ptr<State> state);
    std::unique_ptr<State> state_;
};

}  // namespace tipwright::page
