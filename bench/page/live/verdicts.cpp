#include "bench/page/live/verdicts.hpp"

#include <sys/resource.h>
#include <unistd.h>

#include <boost/asio/post.hpp>
#include <exception>
#include <utility>

namespace tipwright::page {

namespace {

namespace asio = boost::asio;

// Whoever ran it computes its results in that time, or there will be none.
constexpr std::chrono::seconds record_within{20};
// Other lanes' water runs while a verdict is worked out.
constexpr int judges_nice = 10;

}  // namespace

Verdicts::Verdicts(asio::io_context& context, Judge judge, Runs runs, std::function<void()> came)
    : context_(context), judge_(std::move(judge)), runs_(std::move(runs)), came_(std::move(came)) {}

Verdicts::~Verdicts() {
    thread_.stop();
    thread_.join();
}

void Verdicts::await(LiveRun& run, const std::string& id) {
    if (!judge_ || !run.waits_for_verdict()) return;
    run.being_judged();
    unjudged_.push_back({id, run.facts(false).number, std::chrono::steady_clock::now()});
    ask(unjudged_.back());
}

void Verdicts::ask_again() {
    for (Unjudged& one : unjudged_) ask(one);
}

void Verdicts::ask(Unjudged& one) {
    if (one.asked) return;
    one.asked = true;
    const bool last =
        runs_.is_earlier(one.id) || std::chrono::steady_clock::now() - one.since > record_within;
    asio::post(thread_, [this, one, last, journal = runs_.journal(one.id)] {
        ::setpriority(PRIO_PROCESS, static_cast<id_t>(::gettid()), judges_nice);
        asio::post(context_, [this, one, came_out = judged(journal, last)] { deliver(one, came_out); });
    });
}

// A machine without memory for a verdict is no reason to end the page.
Result<std::optional<CameOut>> Verdicts::judged(const std::filesystem::path& journal, bool last) const {
    try {
        return judge_(journal, last);
    } catch (const std::exception& error) {
        return Fault{FaultCode::not_permitted, error.what(), journal.string(), ""};
    }
}

void Verdicts::deliver(const Unjudged& asked, const Result<std::optional<CameOut>>& came_out) {
    const auto same = [&](const Unjudged& one) {
        return one.id == asked.id && one.number == asked.number && one.since == asked.since;
    };
    if (came_out && !*came_out) {
        for (Unjudged& one : unjudged_)
            if (same(one)) one.asked = false;
        return;
    }
    std::erase_if(unjudged_, same);
    LiveRun* run = runs_.find(asked.id);
    if (!run || run->facts(false).number != asked.number) return;
    run->judged(came_out ? Result<CameOut>(**came_out) : Result<CameOut>(came_out.fault()));
    came_();
}

}  // namespace tipwright::page
