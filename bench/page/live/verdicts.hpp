// Verdicts: what came out of each complete run, asked of the judge on a thread of its own while others run
// on. The page's thread alone calls this, and is told of what came.
#pragma once

#include <boost/asio/io_context.hpp>
#include <boost/asio/thread_pool.hpp>
#include <chrono>
#include <filesystem>
#include <functional>
#include <string>
#include <vector>

#include "bench/page/live/came_out.hpp"
#include "bench/page/live/live_run.hpp"

namespace tipwright::page {

class Verdicts {
public:
    // What a verdict needs of the work folder.
    struct Runs {
        std::function<LiveRun*(const std::string& id)> find;  // null: it is there no longer
        std::function<std::filesystem::path(const std::string& id)> journal;
        std::function<bool(const std::string& id)> is_earlier;
    };
    // Without a judge none is asked.
    Verdicts(boost::asio::io_context& context, Judge judge, Runs runs, std::function<void()> came);
    ~Verdicts();
    Verdicts(const Verdicts&) = delete;
    Verdicts& operator=(const Verdicts&) = delete;

    // Asks for that of a run, where it waits for one.
    void await(LiveRun& run, const std::string& id);
    // For those whose record was not written yet.
    void ask_again();

private:
    // A complete run whose record is waited for.
    struct Unjudged {
        std::string id;
        int number = 0;
        std::chrono::steady_clock::time_point since;
        bool asked = false;
    };
    void ask(Unjudged& one);
    Result<std::optional<CameOut>> judged(const std::filesystem::path& journal, bool last) const;
    void deliver(const Unjudged& asked, const Result<std::optional<CameOut>>& came_out);

    boost::asio::io_context& context_;
    Judge judge_;
    Runs runs_;
    std::function<void()> came_;
    std::vector<Unjudged> unjudged_;
    boost::asio::thread_pool thread_{1};
};

}  // namespace tipwright::page
