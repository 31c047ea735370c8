#include "bench/program/instruments/listen_session.hpp"

#include <algorithm>
#include <span>

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/io_context.hpp>

#include "bench/instruments/make.hpp"
#include "bench/instruments/message_ending.hpp"
#include "bench/instruments/modem_contacts/instruments.hpp"
#include "bench/instruments/stop_messages.hpp"
#include "bench/program/instruments/sent_unguarded.hpp"
#include "bench/run/water_guard.hpp"
#include "report/files/files.hpp"

namespace tipwright::program {

namespace asio = boost::asio;

namespace {

constexpr std::string_view replay_prefix = "replay ";
constexpr double pause_between_questions_s = 1;

Result<std::unique_ptr<bench::Link>> open_link(asio::io_context& context, bench::Clock& clock,
                                               const ListenTarget& target, const ListenWork& work) {
    if (!target.replays())
        return bench::make_link(context, target.link, target.profile ? target.profile->serial : work.serial);
    const std::string file = target.link.substr(replay_prefix.size());
    const auto text = read_file(file);
    if (!text) return text.fault();
    auto traffic = bench::parse_traffic(*text, file);
    if (!traffic) return traffic.fault();
    return bench::replay_link(std::move(*traffic), clock, file);
}

// What stops the pump where nobody can wait, in the middle of a message of the person's too.
bench::StopMessages last_words(const bench::InstrumentProfile& profile, const ListenWork& work) {
    bench::StopMessages words = bench::stop_messages(profile);
    const std::string ending = bench::message_ending(profile);
    const bool halves = std::any_of(work.send.begin(), work.send.end(), [&](const std::string& text) {
        return !bench::unescaped_bytes(text)->ends_with(ending);
    });
    if (halves && !words.messages.empty()) words.messages.front().insert(0, ending);
    return words;
}

}  // namespace

bool ListenTarget::replays() const {
    return link.starts_with(replay_prefix);
}

Outcome ListenSession::start(const ListenTarget& target) {
    const bool sends_to_pump =
        target.profile && target.profile->role == bench::Role::pump && !work_.send.empty();
    if (!work_.send.empty() && !sends_to_pump) {
        const auto right = right_to_send(work_.no_pump || target.profile, work_.stop);
        if (!right) return right.fault();
        own_ = *right;
    }
    auto link = open_link(context_, clock_, target, work_);
    if (!link) return link.fault();
    if (!work_.record.empty()) {
        if (Outcome opened = recorder_.open(work_.record, target.link,
                                            target.profile ? target.profile->text.name : std::string());
            !opened)
            return opened;
    }
    if (sends_to_pump) link = supervision_.guard(std::move(*link), last_words(*target.profile, work_));
    if (!work_.stop.empty())
        link = supervision_.guard(std::move(*link), {{*bench::unescaped_bytes(work_.stop)}});
    // A cable that was pulled is put back; a recording only ends once.
    ends_with_link_ = !(*link)->can_reopen();
    if (target.profile && target.profile->of<bench::ModemContactsProfile>()) {
        auto made = bench::make_tip_counter(*target.profile, std::move(*link), clock_, context_);
        if (!made) return made.fault();
        counter_ = std::move(*made);
        asio::co_spawn(context_, watch_contacts(), asio::detached);
        return Done{};
    }
    auto tapped =
        bench::tap_link(std::move(*link), clock_, [this](const bench::TrafficEntry& entry) { see(entry); });
    if (sends_to_pump && work_.ask.empty()) return work_pump(*target.profile, std::move(tapped));
    std::vector<std::string> questions = work_.ask;
    if (questions.empty() && work_.send.empty() && target.profile)
        questions = default_questions(*target.profile);
    if (questions.empty()) {
        link_ = std::move(tapped);
        asio::co_spawn(context_, read_on(), asio::detached);
        if (own_) asio::co_spawn(context_, send_all(*own_), asio::detached);
        return Done{};
    }
    if (!target.profile || !work_.send.empty())
        return Fault{FaultCode::usage, "--ask needs a profile, and excludes --send", "command line",
                     "give --profile, or --send alone"};
    if (Outcome made = asked_.make(*target.profile, std::move(tapped), clock_, context_); !made) return made;
    asio::co_spawn(context_, ask_on(std::move(questions)), asio::detached);
    return Done{};
}

Outcome ListenSession::work_pump(const bench::InstrumentProfile& profile, std::unique_ptr<bench::Link> link) {
    bench::Link* const raw = link.get();
    auto pump = bench::make_pump(profile, std::move(link), clock_, context_);
    if (!pump) return pump.fault();
    lone_ = std::make_unique<LonePump>(
        context_, clock_, std::move(*pump), supervision_, control_,
        [this](const std::string& text) { display_.cry("!! " + visible(text) + "\n"); });
    const auto send = [this, raw, ending = bench::message_ending(profile)]() -> bench::Task<Outcome> {
        auto permit = co_await lone_->guard().take();
        if (!permit) co_return permit.fault();
        for (const std::string& text : work_.send) {
            const auto bytes = bench::unescaped_bytes(text);
            const Outcome sent =
                co_await lone_->guard().let_send(*permit, *raw, std::as_bytes(std::span(*bytes)), ending);
            if (!sent) co_return sent;
            co_await clock_.sleep_for(pause_between_questions_s);
        }
        while (!over_) co_await ended_.wait();
        co_return Done{};
    };
    const auto perform = [this, send]() -> bench::Task<void> {
        const Outcome done = co_await lone_->carry_out(send);
        if (!done && done.fault().code != FaultCode::interrupted) failure_ = done.fault();
        clock_.stop();
    };
    // The coroutine's own copy must outlive it.
    pump_work_ = perform;
    asio::co_spawn(context_, pump_work_(), [this](const std::exception_ptr& error) {
        if (error) clock_.stop();
    });
    return Done{};
}

void ListenSession::see(const bench::TrafficEntry& entry) {
    recorder_.add(entry);
    view_.show(entry);
    if (entry.way == bench::TrafficWay::lost && ends_with_link_) end();
    if (work_.lines && view_.understood() >= *work_.lines) end();
}

bench::Task<void> ListenSession::watch_contacts() {
    while (true) {
        const Result<bench::ContactEdge> edge = co_await counter_->next();
        if (!edge) {
            failure_ = edge.fault();
            clock_.stop();
            co_return;
        }
        view_.note(edge->time_s,
                   "contact " + std::to_string(edge->contact) + (edge->closed ? " closed" : " opened"));
        if (work_.lines && view_.understood() >= *work_.lines) clock_.stop();
    }
}

bench::Task<void> ListenSession::read_on() {
    std::vector<std::byte> buffer(4096);
    while (true) {
        const Result<std::size_t> got = co_await link_->read_some(buffer);
        if (got) continue;
        clock_.stop();
        co_return;
    }
}

bench::Task<void> ListenSession::send_all(bench::UnguardedRight own) {
    for (const std::string& text : work_.send) {
        const auto bytes = bench::unescaped_bytes(text);
        const Outcome sent = co_await own.send(*link_, std::as_bytes(std::span(*bytes)));
        if (!sent) co_return;
        co_await clock_.sleep_for(pause_between_questions_s);
    }
}

bench::Task<void> ListenSession::ask_on(std::vector<std::string> questions) {
    for (std::size_t i = 0;; i = std::min(i + 1, questions.size() - 1)) {
        failure_ = co_await asked_.ask(questions[i]);
        if (failure_ && (failure_->code == FaultCode::usage || failure_->code == FaultCode::link_lost ||
                         failure_->code == FaultCode::inconsistent)) {
            clock_.stop();
            co_return;
        }
        const bool last = i + 1 == questions.size();
        if (last && questions[i] != "read") co_return;
        co_await clock_.sleep_for(pause_between_questions_s);
    }
}

}  // namespace tipwright::program
