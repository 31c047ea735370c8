// The tip counter's firmware core on the host: what it says is what the program's own parser reads.
#include "templates/firmware/tip_counter/tip_counter_core.hpp"

#include <string>
#include <vector>

#include <catch2/catch.hpp>

#include "bench/instruments/tip_counter/protocol.hpp"

using tipwright::bench::CounterLine;
using tipwright::bench::CounterParse;
using tipwright::bench::parse_counter;

namespace {

std::string polled(tip_counter::Core& core, std::uint32_t now_us) {
    std::string text;
    char line[tip_counter::line_length];
    for (int length = core.poll(now_us, line); length > 0; length = core.poll(now_us, line))
        text.append(line, static_cast<std::size_t>(length));
    return text;
}

std::vector<CounterLine> lines_of(std::string text) {
    std::vector<CounterLine> lines;
    while (true) {
        const CounterParse parse = parse_counter(std::as_bytes(std::span(text)));
        if (parse.kind == CounterParse::Kind::need_more) break;
        REQUIRE(parse.kind == CounterParse::Kind::line);
        lines.push_back(parse.line);
        text.erase(0, parse.consumed);
    }
    REQUIRE(text.empty());
    return lines;
}

}  // namespace

TEST_CASE("firmware: edges and heartbeats are whole lines with their numbers and times") {
    tip_counter::Core core(1000);
    auto lines = lines_of(polled(core, 1000));
    REQUIRE(lines.size() == 1);  // the first heartbeat says that it is there
    CHECK(lines[0].heartbeat);
    CHECK(lines[0].sequence == 1);
    CHECK(lines[0].device_us == 0);

    core.edge(1, true, 501000);
    core.edge(2, false, 501250);
    lines = lines_of(polled(core, 502000));
    REQUIRE(lines.size() == 2);
    CHECK_FALSE(lines[0].heartbeat);
    CHECK(lines[0].sequence == 2);
    CHECK(lines[0].device_us == 500000);
    CHECK(lines[0].contact == 1);
    CHECK(lines[0].closed);
    CHECK(lines[1].sequence == 3);
    CHECK(lines[1].device_us == 500250);
    CHECK(lines[1].contact == 2);
    CHECK_FALSE(lines[1].closed);

    CHECK(polled(core, 2000999).empty());
    lines = lines_of(polled(core, 2001000));
    REQUIRE(lines.size() == 1);
    CHECK(lines[0].heartbeat);
    CHECK(lines[0].device_us == 2000000);
}

TEST_CASE("firmware: asked who it is, it says so in a line of its own, whatever stands before the question") {
    tip_counter::Core core(0, "north bench, 2 contacts");
    (void)polled(core, 0);
    for (const char c : std::string("\xff"
                                    "noIID?\n\rID\rID?\r"))
        core.heard(c);
    core.edge(1, true, 900);
    std::string text = polled(core, 1000);
    const CounterParse edge = parse_counter(std::as_bytes(std::span(text)));
    REQUIRE(edge.kind == CounterParse::Kind::line);
    CHECK(edge.line.is_edge());
    text.erase(0, edge.consumed);
    const CounterParse identity = parse_counter(std::as_bytes(std::span(text)));
    REQUIRE(identity.kind == CounterParse::Kind::line);
    CHECK(identity.line.identity == "north bench, 2 conta");  // twenty characters
    CHECK(identity.line.sequence == 3);
    CHECK(identity.line.device_us == 1000);
    CHECK(identity.consumed == text.size());
    CHECK(polled(core, 1100).empty());
}

TEST_CASE("firmware: the clock of 32 bits runs over unseen") {
    tip_counter::Core core(0xFFFFFF00u);
    std::uint64_t now_us = 0;
    std::uint64_t last_us = 0;
    std::uint32_t number = 0;
    // An edge every seven minutes for a week, each before the poll that follows it.
    for (int i = 0; i < 1440; ++i) {
        now_us += 420000000;
        core.edge(1, i % 2 == 0, static_cast<std::uint32_t>(0xFFFFFF00u + now_us));
        for (const CounterLine& line :
             lines_of(polled(core, static_cast<std::uint32_t>(0xFFFFFF00u + now_us + 100)))) {
            CHECK(line.sequence == ++number);
            CHECK(line.device_us >= last_us);
            if (!line.heartbeat) REQUIRE(line.device_us == now_us);
            last_us = line.device_us;
        }
    }
    CHECK(last_us > 0xFFFFFFFFull * 100);
}

TEST_CASE("firmware: an edge that came after the poll's look at the clock is not thrown a whole turn ahead") {
    tip_counter::Core core(0);
    (void)polled(core, 1000000);
    core.edge(1, true, 1500010);
    const auto lines = lines_of(polled(core, 1500000));
    REQUIRE(lines.size() == 1);
    CHECK(lines[0].device_us == 1500010);
}

TEST_CASE("firmware: a queue that runs over leaves a gap in the numbers, never a wrong line") {
    tip_counter::Core core(0);
    (void)polled(core, 0);
    for (int i = 0; i < 100; ++i) core.edge(1, i % 2 == 0, static_cast<std::uint32_t>(1000 + i));
    auto lines = lines_of(polled(core, 2000));
    REQUIRE(lines.size() == tip_counter::queue_length - 1);
    CHECK(lines.front().sequence == 2);
    core.edge(1, true, 3000);
    lines = lines_of(polled(core, 3000));
    REQUIRE(lines.size() == 1);
    CHECK(lines[0].sequence == 102);
}
