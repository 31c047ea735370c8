#include "bench/page/live/work_folder.hpp"

#include <sys/inotify.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <boost/asio/posix/stream_descriptor.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/steady_timer.hpp>
#include <cerrno>
#include <chrono>
#include <cstring>
#include <map>
#include <optional>
#include <set>

#include "bench/journal/closing_entry.hpp"
#include "bench/journal/holder.hpp"
#include "bench/page/live/journal_tail.hpp"
#include "bench/page/live/verdicts.hpp"
#include "calib/base/dates.hpp"

namespace tipwright::page {

namespace {

namespace asio = boost::asio;
namespace fs = std::filesystem;

constexpr int deepest = 2;
constexpr std::size_t most_folders = 20000;
constexpr std::size_t most_earlier_bytes = 256u << 20;
constexpr std::size_t kept_earlier = 4;
// The lock of a run is asked for this often: a program that died closes nothing.
constexpr std::chrono::seconds holders_every{1};
constexpr std::chrono::seconds look_every{5};

struct Followed {
    Followed(const std::string& id, int number, const fs::path& journal)
        : run(id, number), tail(journal), file(bench::file_id(journal)) {}
    LiveRun run;
    JournalTail tail;
    std::optional<bench::FileId> file;
    bool held = false;
    bool more = false;
};

}  // namespace

struct WorkFolder::State {
    State(asio::io_context& io, fs::path root_folder, Changed on_change, Judge run_judge)
        : context(io),
          root(std::move(root_folder)),
          changed(std::move(on_change)),
          events(io),
          timer(io),
          verdicts(io, std::move(run_judge),
                   {[this](const std::string& id) { return known(id); },
                    [this](const std::string& id) { return journal_of(id); },
                    [this](const std::string& id) { return earlier.contains(id); }},
                   [this] { changed(false); }) {}

    asio::io_context& context;
    fs::path root;
    Changed changed;
    asio::posix::stream_descriptor events;
    asio::steady_timer timer;
    std::array<char, 64u << 10> buffer{};
    std::map<int, fs::path> watched;  // folders relative to the root
    std::set<fs::path> watched_folders;
    std::map<std::string, Followed> followed;
    std::map<std::string, fs::file_time_type> earlier;
    std::map<bench::FileId, std::string> earlier_files;
    std::vector<std::pair<std::string, std::unique_ptr<LiveRun>>> read_earlier;
    int next_number = 1;
    std::chrono::steady_clock::time_point looked{};
    Verdicts verdicts;

    void watch(const fs::path& relative) {
        if (watched.size() >= most_folders || watched_folders.contains(relative)) return;
        const int id = ::inotify_add_watch(
            events.native_handle(), (root / relative).c_str(),
            IN_CREATE | IN_MOVED_TO | IN_MODIFY | IN_DELETE_SELF | IN_ONLYDIR | IN_DONT_FOLLOW);
        if (id < 0) return;
        watched[id] = relative;
        watched_folders.insert(relative);
    }

    // True when a run came.
    bool scan(const fs::path& relative, int depth) {
        bool came = meet(relative);
        if (came || depth >= deepest) return came;
        watch(relative);
        std::error_code error;
        std::size_t seen = 0;
        for (fs::directory_iterator at(root / relative, error), end; !error && at != end;
             at.increment(error)) {
            if (++seen > most_folders) break;
            std::error_code ignored;
            if (at->is_symlink(ignored) || !at->is_directory(ignored)) continue;
            const fs::path inner = relative / at->path().filename();
            if (earlier.contains(inner.string()) || followed.contains(inner.string())) continue;
            came = scan(inner, depth + 1) || came;
        }
        return came;
    }

    // Of a folder that holds a journal, closed or open. True: a run that was not known.
    bool meet(const fs::path& relative) {
        const fs::path journal = root / relative / journal_name;
        std::error_code error;
        if (!fs::is_regular_file(fs::symlink_status(journal, error)) || error) return false;
        const std::string id = relative.empty() ? "." : relative.string();
        if (followed.contains(id) || earlier.contains(id)) return false;
        if (bench::closing_entry(journal)) {
            keep_as_earlier(id, journal);
            return true;
        }
        watch(relative);
        make_room();
        followed.try_emplace(id, id, next_number++, journal);
        read(id);
        return true;
    }

    void keep_as_earlier(const std::string& id, const fs::path& journal) {
        std::error_code error;
        earlier[id] = fs::last_write_time(journal, error);
        if (const auto file = bench::file_id(journal)) earlier_files[*file] = id;
    }

    void make_room() {
        if (followed.size() < most_followed) return;
        const auto holders = bench::holders_now();
        while (followed.size() >= most_followed) {
            // Ended before not ended, then the oldest.
            std::optional<std::pair<bool, fs::file_time_type>> first;
            auto leaves = followed.end();
            for (auto at = followed.begin(); at != followed.end(); ++at) {
                Followed& one = at->second;
                if (one.file && holders.contains(*one.file)) continue;
                std::error_code error;
                const std::pair rank(!one.run.ended(), fs::last_write_time(journal_of(at->first), error));
                if (first && rank >= *first) continue;
                first = rank;
                leaves = at;
            }
            if (leaves == followed.end()) return;
            keep_as_earlier(leaves->first, journal_of(leaves->first));
            followed.erase(leaves);
        }
    }

    fs::path journal_of(const std::string& id) const {
        return id == "." ? root / journal_name : root / id / journal_name;
    }

    void read(const std::string& id) {
        const auto found = followed.find(id);
        if (found == followed.end()) return;
        Followed& one = found->second;
        const auto more =
            one.tail.look([&](const bench::JournalEntry& entry) { return one.run.take(entry); });
        if (!more && more.fault().code != FaultCode::file_missing) one.run.unreadable(more.fault());
        one.more = more.ok() && *more;
        if (!one.more) verdicts.await(one.run, id);
        // A long journal is read in turns, so that the other lanes are not kept waiting.
        if (one.more) {
            asio::post(context, [this, id] {
                read(id);
                changed(false);
            });
        }
    }

    LiveRun* known(const std::string& id) {
        if (const auto live = followed.find(id); live != followed.end()) return &live->second.run;
        for (auto& [name, run] : read_earlier)
            if (name == id) return run.get();
        return nullptr;
    }

    // One that had ended, and that somebody goes on with, is followed again.
    void meet_again(const std::map<bench::FileId, pid_t>& holders) {
        for (const auto& [file, holder] : holders) {
            const auto found = earlier_files.find(file);
            if (found == earlier_files.end()) continue;
            const std::string id = found->second;
            if (bench::closing_entry(journal_of(id))) continue;
            earlier_files.erase(found);
            earlier.erase(id);
            std::erase_if(read_earlier, [&](const auto& one) { return one.first == id; });
            if (meet(id == "." ? fs::path() : fs::path(id))) changed(true);
        }
    }

    void ask_holders() {
        const auto holders = bench::holders_now();
        meet_again(holders);
        for (auto& [id, one] : followed) {
            const bool held = one.file && holders.contains(*one.file);
            if (held != one.held) changed(false);
            one.held = held;
        }
    }

    void wait() {
        events.async_read_some(asio::buffer(buffer),
                               [this](const boost::system::error_code& error, std::size_t count) {
                                   if (error == asio::error::operation_aborted) return;
                                   if (!error) take(count);
                                   wait();
                               });
    }

    void take(std::size_t count) {
        std::set<std::string> grown;
        bool came = false;
        for (std::size_t at = 0; at + sizeof(inotify_event) <= count;) {
            inotify_event event{};
            std::memcpy(&event, buffer.data() + at, sizeof event);
            const char* name = event.len > 0 ? buffer.data() + at + sizeof event : "";
            at += sizeof event + event.len;
            if (event.mask & IN_Q_OVERFLOW) {
                for (const auto& one : followed) grown.insert(one.first);
                came = scan({}, 0) || came;
                continue;
            }
            const auto folder = watched.find(event.wd);
            if (folder == watched.end()) continue;
            if (event.mask & (IN_IGNORED | IN_DELETE_SELF)) {
                watched_folders.erase(folder->second);
                watched.erase(folder);
                continue;
            }
            const fs::path relative = folder->second;
            const std::string id = relative.empty() ? "." : relative.string();
            if (std::string_view(name) == journal_name) {
                came = meet(relative) || came;
                grown.insert(id);
            } else if ((event.mask & IN_ISDIR) && (event.mask & (IN_CREATE | IN_MOVED_TO))) {
                const int depth = static_cast<int>(std::distance(relative.begin(), relative.end()));
                if (depth < deepest) {
                    watch(relative / name);
                    came = scan(relative / name, depth + 1) || came;
                }
            }
        }
        for (const auto& id : grown) read(id);
        if (came) ask_holders();
        if (came || !grown.empty()) changed(came);
    }

    void tick() {
        timer.expires_after(holders_every);
        timer.async_wait([this](const boost::system::error_code& error) {
            if (error) return;
            ask_holders();
            verdicts.ask_again();
            const auto now = std::chrono::steady_clock::now();
            if (now - looked >= look_every) {
                looked = now;
                const bool gone = std::erase_if(followed, [&](const auto& one) {
                                      std::error_code ignored;
                                      return !one.second.held && !fs::exists(journal_of(one.first), ignored);
                                  }) > 0;
                const bool came = scan({}, 0) || gone;
                for (auto& one : followed) read(one.first);
                if (came) ask_holders();
                changed(came);
            }
            tick();
        });
    }
};

WorkFolder::WorkFolder(std::unique_ptr<State> state) : state_(std::move(state)) {}
WorkFolder::~WorkFolder() = default;

Result<std::unique_ptr<WorkFolder>> WorkFolder::open(asio::io_context& context, const fs::path& folder,
                                                     Changed changed, Judge judge) {
    std::error_code error;
    const fs::path root = fs::canonical(folder, error);
    if (error || !fs::is_directory(root, error))
        return Fault{FaultCode::file_missing, "there is no such folder", folder.string(),
                     "make it, or name the folder your runs are in"};
    const int descriptor = ::inotify_init1(IN_NONBLOCK | IN_CLOEXEC);
    if (descriptor < 0)
        return Fault{FaultCode::file_unreadable,
                     std::string("the system does not tell of changes: ") + std::strerror(errno),
                     root.string(), "raise fs.inotify.max_user_instances"};
    auto state = std::make_unique<State>(context, root, std::move(changed), std::move(judge));
    state->events.assign(descriptor);
    state->looked = std::chrono::steady_clock::now();
    state->scan({}, 0);
    state->ask_holders();
    state->wait();
    state->tick();
    return std::unique_ptr<WorkFolder>(new WorkFolder(std::move(state)));
}

const fs::path& WorkFolder::folder() const {
    return state_->root;
}

std::vector<RunFacts> WorkFolder::runs() {
    std::vector<RunFacts> out;
    out.reserve(state_->followed.size());
    for (auto& [id, one] : state_->followed) out.push_back(one.run.facts(one.held));
    return out;
}

std::vector<RunFacts> WorkFolder::looked_at() {
    std::vector<RunFacts> out;
    for (const auto& one : state_->read_earlier) out.push_back(one.second->facts(false));
    return out;
}

std::vector<EarlierRun> WorkFolder::earlier() const {
    std::vector<std::pair<fs::file_time_type, std::string>> by_time;
    for (const auto& [id, when] : state_->earlier) by_time.emplace_back(when, id);
    std::sort(by_time.rbegin(), by_time.rend());
    std::vector<EarlierRun> out;
    out.reserve(by_time.size());
    for (const auto& [when, id] : by_time)
        out.push_back({id, utc_text(std::chrono::floor<std::chrono::seconds>(
                               fs::file_time_type::clock::to_sys(when)))});
    return out;
}

LiveRun* WorkFolder::find(const std::string& id) {
    if (LiveRun* run = state_->known(id)) return run;
    if (!state_->earlier.contains(id)) return nullptr;
    auto& kept = state_->read_earlier;
    auto run = std::make_unique<LiveRun>(id, state_->next_number++);
    const auto read = bench::read_journal(journal_of(id),
                                          [&](const bench::JournalEntry& entry) { return run->take(entry); },
                                          {most_earlier_bytes});
    if (!read) run->unreadable(read.fault());
    if (kept.size() >= kept_earlier) kept.erase(kept.begin());
    kept.emplace_back(id, std::move(run));
    state_->verdicts.await(*kept.back().second, id);
    return kept.back().second.get();
}

bool WorkFolder::held(const std::string& id) const {
    const auto live = state_->followed.find(id);
    return live != state_->followed.end() && live->second.held;
}

fs::path WorkFolder::journal_of(const std::string& id) const {
    return state_->journal_of(id);
}

void WorkFolder::look_again() {
    if (state_->scan({}, 0)) state_->changed(true);
}

}  // namespace tipwright::page
