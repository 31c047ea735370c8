// A cable that is pulled and put back: what goes on, what is lost, and that no water begins to flow by it.
#include <algorithm>

#include "bench/instruments/stop_messages.hpp"
#include "tests/bench/scripted_instrument.hpp"
#include "tests/support/test_permit.hpp"
#include "tests/support/test_send.hpp"

using namespace tipwright;
using namespace tipwright::bench;
using namespace tipwright::test;

namespace {

// A link that is lost when told and can be opened again after some failures: a cable pulled and put back.
class PulledCable final : public Link {
public:
    PulledCable(asio::io_context& context, std::vector<std::unique_ptr<Link>>& far_ends, int failures)
        : context_(context), far_ends_(far_ends), failures_(failures) {
        plug_in();
    }
    std::string name() const override { return "cable"; }
    Task<Result<std::size_t>> read_some(std::span<std::byte> into) override { return link_->read_some(into); }
    Task<Outcome> write(SendRight right, std::span<const std::byte> bytes) override {
        return link_->write(right, bytes);
    }
    void close() override { link_->close(); }
    bool can_reopen() const override { return true; }
    Task<Outcome> reopen() override {
        if (failures_-- > 0) co_return Fault{FaultCode::link_lost, "still out", name(), ""};
        plug_in();
        co_return Done{};
    }

private:
    void plug_in() {
        auto [near, far] = make_lockstep_pair(context_, "cable");
        link_ = std::move(near);
        far_ends_.push_back(std::move(far));
    }

    asio::io_context& context_;
    std::vector<std::unique_ptr<Link>>& far_ends_;
    int failures_;
    std::unique_ptr<Link> link_;
};

Task<void> say_on(Clock& clock, std::vector<std::unique_ptr<Link>>& far_ends, std::size_t which, double at_s,
                  std::string text) {
    co_await clock.sleep_until(at_s);
    REQUIRE(which < far_ends.size());
    Outcome written = co_await far_ends[which]->write(TestSend::right(), std::as_bytes(std::span(text)));
    CHECK(written.ok());
}

Task<void> pull(Clock& clock, std::vector<std::unique_ptr<Link>>& far_ends, double at_s) {
    co_await clock.sleep_until(at_s);
    far_ends.back()->close();
}

}  // namespace

TEST_CASE("a balance whose cable is put back in time goes on, half a line is not believed") {
    Bench bench;
    std::vector<std::unique_ptr<Link>> far_ends;
    auto made =
        make_balance(bench.profile("generic-balance-print"),
                     std::make_unique<PulledCable>(bench.context, far_ends, 2), *bench.clock, bench.context);
    bench.start(say_on(*bench.clock, far_ends, 0, 1, "W   12.34 g stable\r\nW   1"));
    bench.start(pull(*bench.clock, far_ends, 2));
    bench.start(say_on(*bench.clock, far_ends, 1, 4, "2.35 g stable\r\nW   12.36 g stable\r\n"));
    Seen seen;
    bench.start(watch(**made, 2, seen));
    bench.clock->run();
    CHECK(seen == Seen{"12.34 g stable @1.000000", "12.36 g stable @4.000000"});
}

TEST_CASE("a balance that may be silent for less than a second goes on when its cable is back within that") {
    Bench bench;
    std::vector<std::unique_ptr<Link>> far_ends;
    DescriptionText text = bench.profile("generic-balance-print").text;
    const std::string silence = "silence_s = 5";
    text.text.replace(text.text.find(silence), silence.size(), "silence_s = 0.8");
    const auto profile = parse_profile(text);
    REQUIRE(profile.ok());
    auto made = make_balance(*profile, std::make_unique<PulledCable>(bench.context, far_ends, 0),
                             *bench.clock, bench.context);
    bench.start(say_on(*bench.clock, far_ends, 0, 0.5, "W   12.34 g stable\r\n"));
    bench.start(pull(*bench.clock, far_ends, 0.6));
    bench.start(say_on(*bench.clock, far_ends, 1, 1.1, "W   12.36 g stable\r\n"));
    Seen seen;
    bench.start(watch(**made, 2, seen));
    bench.clock->run();
    CHECK(seen == Seen{"12.34 g stable @0.500000", "12.36 g stable @1.100000"});
}

TEST_CASE("a balance whose cable stays out is lost after the longest silence") {
    const std::string profile = GENERATE("generic-balance-print", "generic-balance-scpi");
    CAPTURE(profile);
    Bench bench;
    std::vector<std::unique_ptr<Link>> far_ends;
    auto made =
        make_balance(bench.profile(profile), std::make_unique<PulledCable>(bench.context, far_ends, 1000),
                     *bench.clock, bench.context);
    bench.start(pull(*bench.clock, far_ends, 2));
    Seen seen;
    bench.start(watch(**made, 1, seen));
    bench.clock->run();
    CHECK(seen == Seen{"link_lost"});
    CHECK(bench.clock->now_s() < 8);
}

TEST_CASE("a counter whose cable is put back tells the lines that were lost meanwhile") {
    Bench bench;
    std::vector<std::unique_ptr<Link>> far_ends;
    auto made = make_tip_counter(bench.profile("generic-tip-counter"),
                                 std::make_unique<PulledCable>(bench.context, far_ends, 1), *bench.clock,
                                 bench.context);
    bench.start(say_on(*bench.clock, far_ends, 0, 1, with_checksum("E 5 1000000 1 1")));
    bench.start(pull(*bench.clock, far_ends, 2));
    bench.start(say_on(*bench.clock, far_ends, 1, 4, with_checksum("E 8 4000000 1 1")));
    Seen seen;
    bench.start(watch(**made, 3, seen));
    bench.clock->run();
    CHECK(seen == Seen{"1 closed #5", "garbled_answer", "1 closed #8"});
}

TEST_CASE("a pump whose cable is put back is told to stop before anything else, and no flow is set again") {
    // Of every family that has pumps, the shipped profile and the first bytes of its stop.
    const auto [profile, stop] =
        GENERATE(table<std::string, std::string>({{"generic-pump-ascii", "STOP\r"},
                                                  {"generic-pump-scpi", "OUTP OFF\n"},
                                                  {"generic-pump-modbus", ""}}));
    INFO(profile);
    Bench bench;
    std::vector<std::unique_ptr<Link>> far_ends;
    auto made = make_pump(bench.profile(profile), std::make_unique<PulledCable>(bench.context, far_ends, 3),
                          *bench.clock, bench.context);
    bench.start(pull(*bench.clock, far_ends, 2));
    Seen seen;
    bench.start([](Clock& clock, Pump& pump, Seen& log) -> Task<void> {
        co_await clock.sleep_until(1.9);
        Outcome outcome = co_await pump.set_flow(TestPermit::get(), 10);
        log.push_back(shown(outcome) + " @" + std::to_string(clock.now_s()));
        outcome = co_await pump.set_flow(TestPermit::get(), 11);
        log.push_back(shown(outcome) + " @" + std::to_string(clock.now_s()));
    }(*bench.clock, **made, seen));
    std::string heard;
    bench.start([](Clock& clock, std::vector<std::unique_ptr<Link>>& ends, std::string& text) -> Task<void> {
        co_await clock.sleep_until(20);
        REQUIRE(ends.size() == 2);
        std::byte buffer[64];
        Result<std::size_t> got = co_await ends[1]->read_some(buffer);
        REQUIRE(got.ok());
        text.assign(reinterpret_cast<const char*>(buffer), *got);
    }(*bench.clock, far_ends, heard));
    bench.clock->run();
    CHECK(seen == Seen{"link_lost @2.000000", "link_lost @2.000000"});
    // Of Modbus the watchdog's bytes: tests/bench/instruments/modbus_test.cpp spells them out.
    CHECK(heard == (stop.empty() ? stop_messages(bench.profile(profile)).messages.front() : stop));
}

namespace {

struct Arrival {
    double at_s = 0;
    std::string bytes;
};

// On the link that comes back soon after that moment.
Task<void> hear_again(Clock& clock, std::vector<std::unique_ptr<Link>>& far_ends, double from_s,
                      std::vector<Arrival>& heard) {
    constexpr double look_s = 1e-6;
    co_await clock.sleep_until(from_s);
    while (far_ends.size() < 2 && clock.now_s() < from_s + 0.1) co_await clock.sleep_for(look_s);
    REQUIRE(far_ends.size() == 2);
    for (;;) {
        std::byte buffer[64];
        Result<std::size_t> got = co_await far_ends[1]->read_some(buffer);
        if (!got) co_return;
        heard.push_back({clock.now_s(), std::string(reinterpret_cast<const char*>(buffer), *got)});
    }
}

}  // namespace

TEST_CASE("each message that stops a pump is heard by itself when its cable is put back") {
    // Two writes where the family has several; of the others their one message, then what was asked
    // meanwhile.
    const std::string name = GENERATE("generic-pump-ascii", "generic-pump-scpi", "generic-pump-modbus");
    CAPTURE(name);
    Bench bench;
    DescriptionText text = bench.profile(name).text;
    // Seconds of a whole frame, and of the silence that ends it, at the 19200 baud of the profile.
    double frame_s = 0;
    if (name == "generic-pump-modbus") {
        text.text += "\n[[stop]]\nregister = 104\ntype = \"uint16\"\nvalue = 0\n";
        frame_s = (8 + 3.5) * 11 / 19200;
    }
    const auto profile = parse_profile(text);
    REQUIRE(profile.ok());
    const std::vector<std::string> stops = stop_messages(*profile).messages;
    REQUIRE(stops.size() == (frame_s > 0 ? 2 : 1));

    std::vector<std::unique_ptr<Link>> far_ends;
    auto made = make_pump(*profile, std::make_unique<PulledCable>(bench.context, far_ends, 0), *bench.clock,
                          bench.context);
    bench.start(pull(*bench.clock, far_ends, 2));
    std::vector<Arrival> heard;
    bench.start(hear_again(*bench.clock, far_ends, 2.249, heard));
    bench.start([](Clock& clock, Pump& pump) -> Task<void> {
        co_await clock.sleep_until(2.1);
        (void)co_await pump.stop();
    }(*bench.clock, **made));
    bench.clock->run();
    made->reset();
    bench.clock->run();

    REQUIRE(heard.size() >= stops.size() + (frame_s > 0 ? 1 : 0));
    CHECK(heard[0].bytes.starts_with(stops[0]));
    if (frame_s == 0) return;  // where a line's end parts two messages no silence has to
    for (std::size_t i = 0; i < stops.size(); ++i) CHECK(heard[i].bytes == stops[i]);
    for (std::size_t i = 1; i < heard.size(); ++i) CHECK(heard[i].at_s - heard[i - 1].at_s >= frame_s - 1e-5);
}

TEST_CASE("a stop that is asked while the cable is out reaches the pump when it is back") {
    Bench bench;
    std::vector<std::unique_ptr<Link>> far_ends;
    // What could not be said because the cable was out was no attempt.
    DescriptionText text = bench.profile("generic-pump-ascii").text;
    const std::string retries = "retries = 3";
    if (GENERATE(true, false)) text.text.replace(text.text.find(retries), retries.size(), "retries = 0");
    const auto profile = parse_profile(text);
    REQUIRE(profile.ok());
    auto made = make_pump(*profile, std::make_unique<PulledCable>(bench.context, far_ends, 0), *bench.clock,
                          bench.context);
    bench.start(pull(*bench.clock, far_ends, 2));
    Seen seen;
    bench.start([](Clock& clock, Pump& pump, Seen& log) -> Task<void> {
        co_await clock.sleep_until(2.1);
        Outcome outcome = co_await pump.stop();
        log.push_back(shown(outcome));
    }(*bench.clock, **made, seen));
    bench.start(say_on(*bench.clock, far_ends, 1, 2.5, "OK STOP\r\n"));
    bench.clock->run();
    CHECK(seen == Seen{"done"});
}

namespace {

// A pump that says its names one after the other, the last for ever; what it hears stands in the log.
Task<void> be_a_pump(std::vector<std::unique_ptr<Link>>& far_ends, std::size_t which, Clock& clock,
                     double from_s, Seen identities, Seen& log) {
    std::size_t next = 0;
    co_await clock.sleep_until(from_s);
    REQUIRE(which < far_ends.size());
    Link& link = *far_ends[which];
    std::string text;
    while (true) {
        std::byte buffer[64];
        Result<std::size_t> got = co_await link.read_some(buffer);
        if (!got) co_return;
        text.append(reinterpret_cast<const char*>(buffer), *got);
        for (std::size_t end; (end = text.find('\r')) != std::string::npos; text.erase(0, end + 1)) {
            const std::string command = text.substr(0, end);
            log.push_back(std::to_string(which) + " " + command);
            const bool asked = command == "ID?";
            const std::string& identity = identities[std::min(next, identities.size() - 1)];
            next += asked ? 1 : 0;
            const std::string reply = (asked ? "ID " + identity : "OK " + command) + "\r\n";
            Outcome written = co_await link.write(TestSend::right(), std::as_bytes(std::span(reply)));
            if (!written) co_return;
        }
    }
}

Seen after_a_pulled_cable(const Seen& second_identities, Seen& outcomes, Seen& changes) {
    Bench bench;
    std::vector<std::unique_ptr<Link>> far_ends;
    auto made =
        make_pump(bench.profile("generic-pump-ascii"),
                  std::make_unique<PulledCable>(bench.context, far_ends, 0), *bench.clock, bench.context);
    (*made)->on_link_change([&](LinkChange change, const std::string&) {
        constexpr const char* names[] = {"lost",     "returned", "returned_unknown",
                                         "stranger", "noise",    "taken"};
        changes.push_back(names[static_cast<int>(change)]);
    });
    Seen heard;
    bench.start(be_a_pump(far_ends, 0, *bench.clock, 0, {"PUMP 1"}, heard));
    bench.start(pull(*bench.clock, far_ends, 2));
    bench.start(be_a_pump(far_ends, 1, *bench.clock, 2.3, second_identities, heard));
    bench.start([](Clock& clock, Pump& pump, Seen& log) -> Task<void> {
        const Result<std::string> identity = co_await pump.identify();
        log.push_back(identity.ok() ? *identity : name_of(identity.fault().code).data());
        Outcome outcome = co_await pump.set_flow(TestPermit::get(), 10);
        log.push_back(shown(outcome));
        co_await clock.sleep_until(2.1);
        outcome = co_await pump.stop();
        log.push_back(shown(outcome));
        outcome = co_await pump.set_flow(TestPermit::get(), 11);
        log.push_back(shown(outcome));
    }(*bench.clock, **made, outcomes));
    bench.clock->run();
    // Who reads at the far ends comes to its end before they do.
    made->reset();
    bench.clock->run();
    return heard;
}

}  // namespace

TEST_CASE("a pump that said who it is is asked again when its link is back, before anything else is sent") {
    Seen outcomes;
    Seen changes;
    const Seen heard = after_a_pulled_cable({"PUMP 1"}, outcomes, changes);
    REQUIRE(heard.size() >= 6);
    CHECK(heard[3] == "1 ID?");
    CHECK(heard[4] == "1 STOP");
    CHECK(outcomes == Seen{"PUMP 1", "done", "done", "done"});
    CHECK(changes == Seen{"lost", "returned"});
}

TEST_CASE("another pump on a link that came back hears nothing but the question who it is") {
    Seen outcomes;
    Seen changes;
    const Seen heard = after_a_pulled_cable({"PUMP 2"}, outcomes, changes);
    CHECK(heard == Seen{"0 ID?", "0 ID?", "0 FLOW 10.000", "1 ID?", "1 ID?"});
    CHECK(outcomes == Seen{"PUMP 1", "done", "link_lost", "link_lost"});
    CHECK(changes == Seen{"lost", "stranger"});
}

TEST_CASE(
    "noise on a link that came back convicts nobody, and nothing is sent before the pump is known again") {
    Seen outcomes;
    Seen changes;
    const Seen heard = after_a_pulled_cable({"PUMQ 1", "PUMP 1"}, outcomes, changes);
    REQUIRE(heard.size() >= 6);
    CHECK(Seen(heard.begin() + 3, heard.begin() + 6) == Seen{"1 ID?", "1 ID?", "1 STOP"});
    CHECK(outcomes == Seen{"PUMP 1", "done", "done", "done"});
    CHECK(changes == Seen{"lost", "noise", "returned"});
}

TEST_CASE("a pump that came back and never says the same is told to stop, and nobody can tell who it is") {
    Seen outcomes;
    Seen changes;
    const Seen heard = after_a_pulled_cable({"PUMQ 1", "PUMR 1", "PUMS 1"}, outcomes, changes);
    REQUIRE(heard.size() >= 7);
    CHECK(Seen(heard.begin() + 3, heard.begin() + 7) == Seen{"1 ID?", "1 ID?", "1 ID?", "1 STOP"});
    CHECK(changes == Seen{"lost", "returned_unknown"});
}

TEST_CASE("a permit that was withdrawn sends no flow") {
    Bench bench;
    auto made =
        make_pump(bench.profile("generic-pump-ascii"), bench.near_link(), *bench.clock, bench.context);
    bench.answer_with([](const std::string& command) { return "OK " + command + "\r\n"; });
    TestPermit given;
    Seen seen;
    bench.start([](Pump& pump, TestPermit& permit, Seen& log) -> Task<void> {
        Outcome outcome = co_await pump.set_flow(permit.permit, 10);
        log.push_back(shown(outcome));
        permit.withdraw({FaultCode::not_permitted, "over", "pump", ""});
        outcome = co_await pump.set_flow(permit.permit, 20);
        log.push_back(shown(outcome));
    }(**made, given, seen));
    bench.clock->run();
    CHECK(seen == Seen{"done", "not_permitted"});
    CHECK(bench.commands == std::vector<std::string>{"FLOW 10.000"});
}

TEST_CASE("a permit of one pump opens no other") {
    Bench bench;
    auto first =
        make_pump(bench.profile("generic-pump-ascii"), bench.near_link(), *bench.clock, bench.context);
    Bench other_bench;
    auto second = make_pump(other_bench.profile("generic-pump-ascii"), other_bench.near_link(),
                            *other_bench.clock, other_bench.context);
    bench.answer_with([](const std::string& command) { return "OK " + command + "\r\n"; });
    TestPermit of_other(**second);
    Seen seen;
    bench.start([](Pump& pump, TestPermit& permit, Seen& log) -> Task<void> {
        log.push_back(shown(co_await pump.set_flow(permit.permit, 10)));
    }(**first, of_other, seen));
    bench.clock->run();
    CHECK(seen == Seen{"not_permitted"});
    CHECK(bench.commands.empty());
}
