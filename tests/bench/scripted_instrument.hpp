// For tests of instruments: one instrument at the near end of a lockstep link, and a script at the far end
// that answers, is silent, or sends rubbish.
#pragma once

#include <cstdio>
#include <functional>
#include <memory>
#include <string>
#include <vector>

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/io_context.hpp>
#include <catch2/catch.hpp>

#include "bench/instruments/make.hpp"
#include "bench/instruments/modbus_crc.hpp"
#include "tests/bench/checksums.hpp"
#include "tests/support/paths.hpp"
#include "tests/support/test_send.hpp"

namespace tipwright::test {

using namespace bench;

namespace asio = boost::asio;

class Bench {
public:
    ~Bench() {
        if (far) far->close();
        clock->run();
    }

    InstrumentProfile profile(const std::string& name) {
        Result<InstrumentProfile> loaded = load_profile(name, tipwright::test::source_dir() + "/templates");
        REQUIRE(loaded.ok());
        return *loaded;
    }

    std::unique_ptr<Link> near_link() {
        auto [near, other] = make_lockstep_pair(context, "lockstep");
        far = std::move(other);
        return std::move(near);
    }

    // The far end takes commands ended by CR and gives what `answer` returns; empty: nothing.
    void answer_with(std::function<std::string(const std::string&)> answer, double delay_s = 0.005) {
        asio::co_spawn(context, answer_commands(*clock, *far, commands, std::move(answer), delay_s),
                       asio::detached);
    }

    void say(double at_s, std::string text) {
        asio::co_spawn(context, say_at(*clock, *far, at_s, std::move(text)), asio::detached);
    }

    void start(Task<void> task) { asio::co_spawn(context, std::move(task), asio::detached); }

    asio::io_context context;
    std::unique_ptr<Clock> clock = make_lockstep_clock(context);
    std::unique_ptr<Link> far;
    std::vector<std::string> commands;

private:
    static Task<void> answer_commands(Clock& clock, Link& link, std::vector<std::string>& heard,
                                      std::function<std::string(const std::string&)> answer, double delay_s) {
        std::string text;
        while (true) {
            std::byte buffer[64];
            Result<std::size_t> got = co_await link.read_some(buffer);
            if (!got) co_return;
            text.append(reinterpret_cast<const char*>(buffer), *got);
            for (std::size_t end; (end = text.find('\r')) != std::string::npos; text.erase(0, end + 1)) {
                heard.push_back(text.substr(0, end));
                const std::string reply = answer(heard.back());
                co_await clock.sleep_for(delay_s);
                Outcome written = co_await link.write(TestSend::right(), std::as_bytes(std::span(reply)));
                if (!written) co_return;
            }
        }
    }

    static Task<void> say_at(Clock& clock, Link& link, double at_s, std::string text) {
        co_await clock.sleep_until(at_s);
        Outcome written = co_await link.write(TestSend::right(), std::as_bytes(std::span(text)));
        CHECK(written.ok());
    }
};

inline std::string shown(const Outcome& outcome) {
    return outcome.ok() ? "done" : std::string(name_of(outcome.fault().code));
}

inline std::string shown(const Result<WeightReading>& reading) {
    if (!reading) return std::string(name_of(reading.fault().code));
    return reading->text + (reading->stable ? " stable" : " moving") + " @" +
           std::to_string(reading->arrived_s);
}

inline std::string shown(const Result<ContactEdge>& edge) {
    if (!edge) return std::string(name_of(edge.fault().code));
    return std::to_string(edge->contact) + (edge->closed ? " closed" : " open") + " #" +
           std::to_string(edge->sequence);
}

using Seen = std::vector<std::string>;

inline Task<void> watch(Balance& balance, int count, Seen& seen) {
    for (int i = 0; i < count; ++i) {
        Result<WeightReading> reading = co_await balance.next();
        seen.push_back(shown(reading));
    }
}

inline Task<void> watch(TipCounter& counter, int count, Seen& seen) {
    for (int i = 0; i < count; ++i) {
        Result<ContactEdge> edge = co_await counter.next();
        seen.push_back(shown(edge));
    }
}

}  // namespace tipwright::test
