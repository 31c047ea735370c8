// Learning: somebody who does what listen --learn asks, beside an instrument on a lockstep link.
#pragma once

#include <functional>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/io_context.hpp>

#include "bench/instruments/learn/session.hpp"
#include "tests/support/made_up_balances.hpp"
#include "tests/support/test_send.hpp"

namespace tipwright::test {

// Does each deed when it is asked for, and answers by the words of the question; `answers` go before: the
// first whose left side stands in what was said.
class Helper final : public bench::LearnPerson {
public:
    std::function<void(bench::Situation)> deed;
    std::vector<std::pair<std::string, std::string>> answers;
    std::string mass = "500";
    bool leaves = false;  // before the first answer
    std::vector<std::string> heard;

    void say(const std::string& text) override { heard.push_back(text); }
    bench::Task<std::optional<std::string>> answer() override {
        if (leaves) co_return std::nullopt;
        const std::string& text = heard.back();
        for (const auto& [words, word] : answers)
            if (text.find(words) != std::string::npos) co_return word;
        if (text.find("Which mass") != std::string::npos) co_return mass;
        constexpr std::string_view of_four = " of 4: ";
        if (const auto at = text.find(of_four); at != std::string::npos && deed)
            deed(static_cast<bench::Situation>(text[at - 1] - '1'));
        co_return "";
    }
};

// A balance that prints five lines a second, or answers every question; until the link is lost.
inline bench::Task<void> balance_prints(std::shared_ptr<bench::Link> link, bench::Clock& clock,
                                        std::shared_ptr<BalanceOnDesk> desk) {
    bool first = true;
    while (true) {
        std::string line = desk->next_line();
        if (first) line.erase(0, 3);  // whoever begins to listen comes into the middle of a line
        first = false;
        const Outcome sent = co_await link->write(bench::TestSend::right(), std::as_bytes(std::span(line)));
        if (!sent) co_return;
        co_await clock.sleep_for(0.2);
    }
}
inline bench::Task<void> balance_answers(std::shared_ptr<bench::Link> link, std::string question,
                                         std::shared_ptr<BalanceOnDesk> desk) {
    std::vector<std::byte> buffer(256);
    std::string held;
    while (true) {
        const Result<std::size_t> got = co_await link->read_some(buffer);
        if (!got) co_return;
        held.append(reinterpret_cast<const char*>(buffer.data()), *got);
        if (held.find(question) == std::string::npos) continue;
        held.clear();
        const std::string line = desk->next_line();
        const Outcome sent = co_await link->write(bench::TestSend::right(), std::as_bytes(std::span(line)));
        if (!sent) co_return;
    }
}

// Learns on that link; the clock runs until it is done.
inline Result<bench::LearnedProfile> learned_on(std::unique_ptr<bench::Link> link, bench::Clock& clock,
                                                boost::asio::io_context& context, Helper& helper,
                                                bench::LearnPlan plan) {
    Result<bench::LearnedProfile> out = Fault{FaultCode::inconsistent, "no end", "", ""};
    const auto learn = [&]() -> bench::Task<void> {
        out = co_await bench::learn_instrument(std::move(link), clock, context, helper, std::move(plan));
        clock.stop();
    };
    boost::asio::co_spawn(context, learn, boost::asio::detached);
    clock.run();
    return out;
}

// The made-up balance on a lockstep link, with a helper who is asked everything; `question` empty: it prints.
inline Result<bench::LearnedProfile> learned_of(const MadeUpBalance& balance, const std::string& question,
                                                std::uint64_t seed, Helper& helper,
                                                std::vector<bench::InstrumentProfile> known = {}) {
    boost::asio::io_context context(1);
    const auto clock = bench::make_lockstep_clock(context);
    auto [near, far] = bench::make_lockstep_pair(context, "balance");
    const std::shared_ptr<bench::Link> device = std::move(far);
    const auto desk = std::make_shared<BalanceOnDesk>(balance, 500, seed);
    helper.deed = [desk](bench::Situation situation) { desk->begin(situation); };
    if (question.empty())
        boost::asio::co_spawn(context, balance_prints(device, *clock, desk), boost::asio::detached);
    else
        boost::asio::co_spawn(context, balance_answers(device, question, desk), boost::asio::detached);
    bench::LearnPlan plan;
    plan.role = bench::Role::balance;
    plan.known = std::move(known);
    plan.request.title = balance.name;
    plan.request.question = question;
    plan.own = bench::UnguardedRight::to_no_pump();
    auto learned = learned_on(std::move(near), *clock, context, helper, std::move(plan));
    device->close();
    return learned;
}

}  // namespace tipwright::test
