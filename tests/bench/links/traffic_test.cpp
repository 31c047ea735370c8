// Recorded traffic: its text, and a recording in the place of an instrument.
#include "bench/links/traffic.hpp"

#include <fstream>
#include <iterator>

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <catch2/catch.hpp>

#include "bench/instruments/make.hpp"
#include "tests/support/paths.hpp"
#include "tests/support/test_send.hpp"

using namespace tipwright;
using namespace tipwright::bench;
namespace asio = boost::asio;
using namespace std::string_literals;

namespace {

const std::string head = std::string(traffic_first_line) + "\n";

std::string fixture(const std::string& name) {
    std::ifstream in(tipwright::test::source_dir() + "/fixtures/traffic/" + name);
    REQUIRE(in);
    return {std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>()};
}

Traffic good(std::string_view text) {
    auto traffic = parse_traffic(text, "file");
    REQUIRE(traffic);
    return std::move(*traffic);
}

// Carries out `talk` on a lockstep clock, against a link that replays the text.
template <class Talk>
void with_replay(std::string_view text, Talk talk) {
    asio::io_context context(1);
    const auto clock = make_lockstep_clock(context);
    auto link = replay_link(good(text), *clock, "replay");
    bool ended = false;
    const auto perform = [&]() -> Task<void> {
        co_await talk(*clock, context, std::move(link));
        ended = true;
        clock->stop();
    };
    std::exception_ptr defect;
    asio::co_spawn(context, perform, [&](const std::exception_ptr& error) { defect = error; });
    clock->run();
    if (defect) std::rethrow_exception(defect);
    CHECK(ended);
}

}  // namespace

TEST_CASE("traffic: every byte is written and read back") {
    std::string all;
    for (int byte = 0; byte < 256; ++byte) all += static_cast<char>(byte);
    const std::string text = head + "# instrument = a balance\n\n" +
                             traffic_line({0, TrafficWay::sent, all}) +
                             traffic_line({1.25, TrafficWay::came, "W 1\r\n"}) +
                             traffic_line({3, TrafficWay::lost, "the link is closed"});
    const Traffic traffic = good(text);
    REQUIRE(traffic.head.size() == 1);
    CHECK(traffic.head[0].first == "instrument");
    CHECK(traffic.head[0].second == "a balance");
    REQUIRE(traffic.entries.size() == 3);
    CHECK(traffic.entries[0].bytes == all);
    CHECK(traffic.entries[1].time_s == 1.25);
    CHECK(traffic.entries[1].bytes == "W 1\r\n");
    CHECK(traffic.entries[2].way == TrafficWay::lost);
}

TEST_CASE("traffic: a bad recording is named by its line") {
    const std::pair<std::string, std::string> bad[] = {
        {"", "file"},
        {"tipwright-traffic 2\n", "file:1"},
        {head + "1 < \"a\"\n0.5 < \"b\"\n", "file:3"},
        {head + "nan < \"a\"\n", "file:2"},
        {head + "-1 < \"a\"\n", "file:2"},
        {head + "1 ? \"a\"\n", "file:2"},
        {head + "1 < a\n", "file:2"},
        {head + "1 < \"\"\n", "file:2"},
        {head + "1 < \"\\x4\"\n", "file:2"},
        {head + "1 < \"\\q\"\n", "file:2"},
        {head + "1 < \"a\"b\"\n", "file:2"},
    };
    for (const auto& [text, where] : bad) {
        const auto traffic = parse_traffic(text, "file");
        INFO(text);
        REQUIRE_FALSE(traffic);
        CHECK(traffic.fault().where == where);
    }
}

TEST_CASE("traffic: a recorded balance is a balance again") {
    with_replay(fixture("virtual-balance-print.traffic"),
                [](Clock& clock, asio::io_context& context, std::unique_ptr<Link> link) -> Task<void> {
                    const auto profile =
                        load_profile("generic-balance-print", tipwright::test::source_dir() + "/templates");
                    REQUIRE(profile);
                    const auto balance = make_balance(*profile, std::move(link), clock, context);
                    REQUIRE(balance);
                    const Result<std::string> identity = co_await (*balance)->identify();
                    REQUIRE(identity);
                    CHECK(*identity == "virtual-balance 1");
                    const Result<WeightReading> first = co_await (*balance)->next();
                    REQUIRE(first);
                    CHECK(first->mass_g == 179.98);
                    CHECK(first->arrived_s == Approx(0.118878).margin(1e-6));
                    const Outcome tared = co_await (*balance)->tare();
                    REQUIRE(tared);
                    const Result<WeightReading> tared_reading = co_await (*balance)->next();
                    REQUIRE(tared_reading);
                    CHECK(tared_reading->mass_g == 0.0);
                    CHECK(tared_reading->decimals == 2);
                });
}

TEST_CASE("traffic: a replay that is sent something else, and its end, are told") {
    with_replay(
        head + "0 > \"ID?\\r\"\n1 < \"ID x\\r\\n\"\n",
        [](Clock& clock, asio::io_context&, std::unique_ptr<Link> link) -> Task<void> {
            std::vector<std::byte> buffer(64);
            const Outcome half = co_await link->write(TestSend::right(), std::as_bytes(std::span("ID?", 3)));
            REQUIRE(half);
            const Outcome rest = co_await link->write(TestSend::right(), std::as_bytes(std::span("\r", 1)));
            REQUIRE(rest);
            const Result<std::size_t> got = co_await link->read_some(std::span(buffer).first(2));
            REQUIRE(got);
            CHECK(*got == 2);
            CHECK(clock.now_s() == Approx(1));
            const Result<std::size_t> more = co_await link->read_some(buffer);
            REQUIRE(more);
            CHECK(*more == 4);
            const Result<std::size_t> end = co_await link->read_some(buffer);
            REQUIRE_FALSE(end);
            CHECK(end.fault().what == "the recording ends here");
        });
    with_replay(head + "0 > \"ID?\\r\"\n1 < \"ID x\\r\\n\"\n",
                [](Clock&, asio::io_context&, std::unique_ptr<Link> link) -> Task<void> {
                    const Outcome other =
                        co_await link->write(TestSend::right(), std::as_bytes(std::span("STOP\r", 5)));
                    REQUIRE_FALSE(other);
                    CHECK(other.fault().code == FaultCode::link_lost);
                });
}

TEST_CASE("traffic: a tapped link shows what goes over it and changes nothing") {
    std::vector<TrafficEntry> seen;
    with_replay(head + "0.5 > \"Q\"\n1.5 < \"A\"\n",
                [&](Clock& clock, asio::io_context&, std::unique_ptr<Link> link) -> Task<void> {
                    const auto tapped = tap_link(std::move(link), clock,
                                                 [&](const TrafficEntry& entry) { seen.push_back(entry); });
                    std::vector<std::byte> buffer(8);
                    const Outcome sent =
                        co_await tapped->write(TestSend::right(), std::as_bytes(std::span("Q", 1)));
                    REQUIRE(sent);
                    const Result<std::size_t> got = co_await tapped->read_some(buffer);
                    REQUIRE(got);
                    const Result<std::size_t> end = co_await tapped->read_some(buffer);
                    CHECK_FALSE(end);
                });
    REQUIRE(seen.size() == 3);
    CHECK(seen[0].way == TrafficWay::sent);
    CHECK(seen[0].bytes == "Q");
    CHECK(seen[1].way == TrafficWay::came);
    CHECK(seen[1].bytes == "A");
    CHECK(seen[1].time_s == Approx(1));
    CHECK(seen[2].way == TrafficWay::lost);
}
