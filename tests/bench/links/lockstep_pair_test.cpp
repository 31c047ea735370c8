#include <cstring>
#include <string>
#include <vector>

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <catch2/catch.hpp>

#include "bench/links/link.hpp"
#include "tests/bench/within.hpp"
#include "tests/support/test_send.hpp"

using namespace tipwright;
using namespace tipwright::bench;
namespace asio = boost::asio;

namespace {

Task<void> read_all(Link& link, std::string& into, std::size_t piece) {
    std::vector<std::byte> buffer(piece);
    while (true) {
        Result<std::size_t> got = co_await link.read_some(buffer);
        if (!got) {
            into += "|" + std::string(name_of(got.fault().code));
            co_return;
        }
        into.append(reinterpret_cast<const char*>(buffer.data()), *got);
    }
}

Task<void> say(Clock& clock, Link& link, double at_s, std::string text) {
    co_await clock.sleep_until(at_s);
    Outcome written = co_await link.write(TestSend::right(), std::as_bytes(std::span(text)));
    CHECK(written.ok());
}

}  // namespace

TEST_CASE("a lockstep pair carries bytes both ways, in order, and ends with link_lost") {
    asio::io_context context;
    const auto clock = make_lockstep_clock(context);
    auto [near, far] = make_lockstep_pair(context, "lockstep balance");
    CHECK(near->name() == "lockstep balance");
    std::string at_near;
    std::string at_far;
    auto start = [&](Task<void> task) { asio::co_spawn(context, std::move(task), asio::detached); };
    start(read_all(*near, at_near, 3));
    start(read_all(*far, at_far, 64));
    start(say(*clock, *far, 1, "W   12.34 g stable\r\n"));
    start(say(*clock, *far, 2, "W over\r\n"));
    start(say(*clock, *near, 1.5, "TARE\r"));
    start([](Clock& c, Link& link) -> Task<void> {
        co_await c.sleep_until(3);
        link.close();
        const char byte = 'x';
        Outcome late = co_await link.write(TestSend::right(), std::as_bytes(std::span(&byte, 1)));
        CHECK((!late && late.fault().code == FaultCode::link_lost));
    }(*clock, *far));
    clock->run();
    CHECK(at_near == "W   12.34 g stable\r\nW over\r\n|link_lost");
    CHECK(at_far == "TARE\r|link_lost");
}

TEST_CASE("what was written before the close is still read") {
    asio::io_context context;
    const auto clock = make_lockstep_clock(context);
    auto [near, far] = make_lockstep_pair(context, "lockstep pump");
    std::string seen;
    asio::co_spawn(context, say(*clock, *far, 0, "OK STOP\r\n"), asio::detached);
    clock->run();
    far.reset();
    asio::co_spawn(context, read_all(*near, seen, 4), asio::detached);
    clock->run();
    CHECK(seen == "OK STOP\r\n|link_lost");
}

TEST_CASE("a read under a time limit is cancelled without loss of later bytes") {
    asio::io_context context;
    const auto clock = make_lockstep_clock(context);
    auto [near, far] = make_lockstep_pair(context, "lockstep pump");
    std::string seen;
    asio::co_spawn(context, say(*clock, *far, 7, "late"), asio::detached);
    asio::co_spawn(
        context,
        [](Clock& c, Link& link, std::string& text) -> Task<void> {
            std::byte buffer[16];
            Result<std::size_t> early = co_await within(c, 5, link.read_some(buffer), link.name());
            CHECK((!early && early.fault().code == FaultCode::no_answer));
            CHECK(c.now_s() == 5);
            Result<std::size_t> late = co_await within(c, 5, link.read_some(buffer), link.name());
            REQUIRE(late.ok());
            text.assign(reinterpret_cast<const char*>(buffer), *late);
        }(*clock, *near, seen),
        asio::detached);
    clock->run();
    CHECK(seen == "late");
    CHECK(clock->now_s() == 7);
}
