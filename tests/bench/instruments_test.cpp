// Instruments over lockstep links: a scripted device at the far end answers, is silent, or sends rubbish.
#include <cstring>
#include <deque>
#include <functional>
#include <limits>
#include <string>
#include <vector>

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <catch2/catch.hpp>

#include "bench/instruments/make.hpp"
#include "bench/instruments/modbus_crc.hpp"
#include "bench/virtual_bench/virtual_bench.hpp"

using namespace tipwright;
using namespace tipwright::bench;
namespace asio = boost::asio;

namespace {

std::string with_checksum(const std::string& body) {
    char tail[8];
    std::snprintf(tail, sizeof tail, " *%04X", crc16_modbus(body));
    return body + tail + "\r\n";
}

class Bench {
public:
    ~Bench() {
        if (far) far->close();
        clock->run();
    }

    InstrumentProfile profile(const std::string& name) {
        Result<InstrumentProfile> loaded = load_profile(name, TIPWRIGHT_SOURCE_DIR "/templates");
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
                Outcome written = co_await link.write(std::as_bytes(std::span(reply)));
                if (!written) co_return;
            }
        }
    }

    static Task<void> say_at(Clock& clock, Link& link, double at_s, std::string text) {
        co_await clock.sleep_until(at_s);
        Outcome written = co_await link.write(std::as_bytes(std::span(text)));
        CHECK(written.ok());
    }
};

std::string shown(const Outcome& outcome) {
    return outcome.ok() ? "done" : std::string(name_of(outcome.fault().code));
}

std::string shown(const Result<WeightReading>& reading) {
    if (!reading) return std::string(name_of(reading.fault().code));
    return reading->text + (reading->stable ? " stable" : " moving") + " @" +
           std::to_string(reading->arrived_s);
}

std::string shown(const Result<ContactEdge>& edge) {
    if (!edge) return std::string(name_of(edge.fault().code));
    return std::to_string(edge->contact) + (edge->closed ? " closed" : " open") + " #" +
           std::to_string(edge->sequence);
}

using Seen = std::vector<std::string>;

Task<void> watch(Balance& balance, int count, Seen& seen) {
    for (int i = 0; i < count; ++i) {
        Result<WeightReading> reading = co_await balance.next();
        seen.push_back(shown(reading));
    }
}

Task<void> watch(TipCounter& counter, int count, Seen& seen) {
    for (int i = 0; i < count; ++i) {
        Result<ContactEdge> edge = co_await counter.next();
        seen.push_back(shown(edge));
    }
}

}  // namespace

TEST_CASE("a pump is told its flow, repeats after silence, and reports a refusal") {
    Bench bench;
    auto made =
        make_pump(bench.profile("generic-pump-ascii"), bench.near_link(), *bench.clock, bench.context);
    REQUIRE(made.ok());
    Pump& pump = **made;
    int silent = 0;
    bench.answer_with([&](const std::string& command) -> std::string {
        if (silent > 0) {
            --silent;
            return "";
        }
        if (command == "FLOW 999.000") return "ERR flow out of range\r\n";
        return "OK " + command + "\r\n";
    });
    Seen seen;
    bench.start([](Bench& b, Pump& p, int& mute, Seen& log) -> Task<void> {
        Outcome outcome = co_await p.set_flow(12.3456);
        log.push_back(shown(outcome));
        mute = 2;
        outcome = co_await p.stop();
        log.push_back(shown(outcome) + " after " + std::to_string(b.clock->now_s()));
        outcome = co_await p.set_flow(999);
        log.push_back(shown(outcome) + ": " + outcome.fault().what);
        outcome = co_await p.set_drain(true);
        log.push_back(shown(outcome));
        mute = 100;
        outcome = co_await p.stop();
        log.push_back(shown(outcome));
        outcome = co_await p.set_flow(std::numeric_limits<double>::quiet_NaN());
        log.push_back(shown(outcome));
        outcome = co_await p.set_flow(-1);
        log.push_back(shown(outcome));
    }(bench, pump, silent, seen));
    bench.clock->run();
    REQUIRE(seen.size() == 7);
    CHECK(seen[0] == "done");
    CHECK(seen[1] == "done after 1.010000");  // 5 ms, twice the answer time of 0.5 s, 5 ms
    CHECK(seen[2] == "refused: refused the command for the flow: \"flow out of range\"");
    CHECK(seen[3] == "done");
    CHECK(seen[4] == "no_answer");
    CHECK(seen[5] == "bad_value");
    CHECK(seen[6] == "bad_value");
    CHECK(bench.commands[0] == "FLOW 12.346");
}

TEST_CASE("an acknowledgement of another flow is not taken, rubbish is told as such") {
    Bench bench;
    auto made =
        make_pump(bench.profile("generic-pump-ascii"), bench.near_link(), *bench.clock, bench.context);
    Pump& pump = **made;
    int count = 0;
    bench.answer_with([&](const std::string&) -> std::string {
        ++count;
        return count == 1 ? "OK FLOW 7.000\r\n" : count == 2 ? "OK FLOW 8.000\r\n" : "\xff\xfe\r\n";
    });
    Seen seen;
    bench.start([](Pump& p, Seen& log) -> Task<void> {
        Outcome outcome = co_await p.set_flow(8);
        log.push_back(shown(outcome));
        outcome = co_await p.set_flow(9);
        log.push_back(shown(outcome));
    }(pump, seen));
    bench.clock->run();
    CHECK(seen == Seen{"done", "garbled_answer"});
}

TEST_CASE("a stop overtakes a command that still waits") {
    Bench bench;
    auto made =
        make_pump(bench.profile("generic-pump-ascii"), bench.near_link(), *bench.clock, bench.context);
    Pump& pump = **made;
    bench.answer_with([](const std::string& command) { return command == "STOP" ? "OK STOP\r\n" : ""; });
    Seen seen;
    bench.start([](Pump& p, Seen& log) -> Task<void> {
        Outcome outcome = co_await p.set_flow(8);
        log.push_back("flow " + shown(outcome));
    }(pump, seen));
    bench.start([](Bench& b, Pump& p, Seen& log) -> Task<void> {
        co_await b.clock->sleep_for(0.1);
        Outcome outcome = co_await p.stop();
        log.push_back("stop " + shown(outcome) + " @" + std::to_string(b.clock->now_s()));
    }(bench, pump, seen));
    bench.clock->run();
    CHECK(seen == Seen{"flow interrupted", "stop done @0.105000"});
}

TEST_CASE("a lost link is told at once, to who waits and to who asks later") {
    Bench bench;
    auto made =
        make_pump(bench.profile("generic-pump-ascii"), bench.near_link(), *bench.clock, bench.context);
    Pump& pump = **made;
    Seen seen;
    bench.start([](Bench& b, Pump& p, Seen& log) -> Task<void> {
        Outcome outcome = co_await p.set_flow(8);
        log.push_back(shown(outcome) + " @" + std::to_string(b.clock->now_s()));
        outcome = co_await p.stop();
        log.push_back(shown(outcome));
    }(bench, pump, seen));
    bench.start([](Bench& b) -> Task<void> {
        co_await b.clock->sleep_for(0.25);
        b.far->close();
    }(bench));
    bench.clock->run();
    CHECK(seen == Seen{"link_lost @0.250000", "link_lost"});
}

TEST_CASE("a printing balance gives each print once, with its time") {
    Bench bench;
    auto made =
        make_balance(bench.profile("generic-balance-print"), bench.near_link(), *bench.clock, bench.context);
    Balance& balance = **made;
    bench.say(0.5, "ble\r\n");  // half a line: the balance was printing when the port was opened
    bench.say(1, "W   12.34 g stable\r\n");
    bench.say(1.2, "W   12.3");
    bench.say(1.3, "5 g moving\r\nW over\r\n");
    bench.say(2, "W   1\xfe.35 g moving\r\n");
    bench.say(2.2, "W   12.36 g moving\r\n");
    Seen seen;
    bench.start(watch(balance, 5, seen));
    bench.clock->run();
    CHECK(seen == Seen{"12.34 g stable @1.000000", "12.35 g moving @1.300000", "overload",
                       "12.36 g moving @2.200000", "no_answer"});
    CHECK(bench.clock->now_s() == Approx(7.2));
}

TEST_CASE("a balance that only prints rubbish is told, whatever the rubbish") {
    Bench bench;
    auto made =
        make_balance(bench.profile("generic-balance-print"), bench.near_link(), *bench.clock, bench.context);
    Balance& balance = **made;
    bench.say(1, "W   12.34 g stable\r\n");
    for (int i = 0; i < 6; ++i) bench.say(2 + 0.1 * i, "\x81\x82W 1\r\n");
    Seen seen;
    bench.start(watch(balance, 3, seen));
    bench.clock->run();
    CHECK(seen == Seen{"12.34 g stable @1.000000", "garbled_answer", "garbled_answer"});
}

TEST_CASE("taring drops what was printed before") {
    Bench bench;
    auto made =
        make_balance(bench.profile("generic-balance-print"), bench.near_link(), *bench.clock, bench.context);
    Balance& balance = **made;
    bench.answer_with(
        [](const std::string& command) { return "W  100.00 g stable\r\nOK " + command + "\r\n"; });
    bench.say(1, "W  100.00 g stable\r\n");
    bench.say(3, "W    0.00 g stable\r\n");
    Seen seen;
    bench.start([](Bench& b, Balance& scale, Seen& log) -> Task<void> {
        co_await b.clock->sleep_until(2);
        Outcome outcome = co_await scale.tare();
        log.push_back(shown(outcome));
        co_await watch(scale, 1, log);
    }(bench, balance, seen));
    bench.clock->run();
    CHECK(seen == Seen{"done", "0.00 g stable @3.000000"});
}

TEST_CASE("a polled balance is asked, not more often than its profile says") {
    Bench bench;
    auto made =
        make_balance(bench.profile("generic-balance-polled"), bench.near_link(), *bench.clock, bench.context);
    Balance& balance = **made;
    int count = 0;
    bench.answer_with([&](const std::string& command) -> std::string {
        CHECK(command == "W?");
        ++count;
        if (count == 3) return "W over\r\n";
        if (count >= 4) return "";
        return "W   12.34 g stable\r\n";
    });
    Seen seen;
    bench.start(watch(balance, 4, seen));
    bench.clock->run();
    CHECK(seen == Seen{"12.34 g stable @0.005000", "12.34 g stable @0.205000", "overload", "no_answer"});
}

TEST_CASE("a counter gives edges on bench time and tells lost lines, restarts and silence") {
    Bench bench;
    auto made = make_tip_counter(bench.profile("generic-tip-counter"), bench.near_link(), *bench.clock,
                                 bench.context);
    TipCounter& counter = **made;
    bench.say(1, with_checksum("H 1 500000000"));
    bench.say(2.5, with_checksum("E 2 501500000 1 1"));
    bench.say(2.6, with_checksum("E 2 501500000 1 1"));  // doubled on the way: one edge
    bench.say(2.7, with_checksum("E 3 501600000 1 0"));
    bench.say(3, with_checksum("H 4 502000000") + with_checksum("E 6 502000100 2 1"));
    bench.say(5, with_checksum("H 1 90000"));
    bench.say(6, with_checksum("E 2 1090000 1 1"));
    Seen seen;
    std::vector<double> times;
    bench.start([](TipCounter& c, Seen& log, std::vector<double>& at_s) -> Task<void> {
        for (int i = 0; i < 7; ++i) {
            Result<ContactEdge> edge = co_await c.next();
            log.push_back(shown(edge));
            at_s.push_back(edge ? edge->time_s : -1);
        }
    }(counter, seen, times));
    bench.clock->run();
    CHECK(seen == Seen{"1 closed #2", "1 open #3", "garbled_answer", "2 closed #6", "garbled_answer",
                       "1 closed #2", "counter_silent"});
    CHECK(times[0] == Approx(2.5).margin(1e-6));
    CHECK(times[1] == Approx(2.6).margin(1e-6));  // by its own clock: the line was late
    CHECK(times[3] == Approx(3.0).margin(2e-4));
    CHECK(times[5] == Approx(6).margin(1e-6));
    CHECK(bench.clock->now_s() == Approx(11));
}

TEST_CASE("a counter that never speaks is silent from the beginning") {
    Bench bench;
    auto made = make_tip_counter(bench.profile("generic-tip-counter"), bench.near_link(), *bench.clock,
                                 bench.context);
    Seen seen;
    bench.start(watch(**made, 2, seen));
    bench.clock->run();
    CHECK(seen == Seen{"counter_silent", "counter_silent"});
    CHECK(bench.clock->now_s() == 10);
}

TEST_CASE("an instrument of another role is refused") {
    Bench bench;
    const auto made =
        make_pump(bench.profile("generic-tip-counter"), bench.near_link(), *bench.clock, bench.context);
    REQUIRE(!made.ok());
    CHECK(made.fault().code == FaultCode::inconsistent);
}

TEST_CASE("the shipped profiles work with the virtual bench's devices") {
    Bench bench;
    calib::Gauge gauge;
    gauge.nominal_tip_mm = 0.2;
    gauge.catch_diameter_mm = {200, 0.1, calib::infinite_dof};
    gauge.contacts = {{}, {}};
    VirtualBench devices(*bench.clock, bench.context, gauge, GaugeTruth{}, BenchTruth{},
                         calib::BenchMetrology{}, 1);
    devices.start();
    auto pump = make_pump(bench.profile("generic-pump-ascii"), devices.take_link("pump"), *bench.clock,
                          bench.context);
    auto balance = make_balance(bench.profile("generic-balance-print"), devices.take_link("balance"),
                                *bench.clock, bench.context);
    auto counter = make_tip_counter(bench.profile("generic-tip-counter"), devices.take_link("counter"),
                                    *bench.clock, bench.context);
    auto climate = make_climate_sensor(bench.profile("generic-climate-ascii"), devices.take_link("climate"),
                                       *bench.clock, bench.context);
    REQUIRE(pump.ok());
    REQUIRE(balance.ok());
    REQUIRE(counter.ok());
    REQUIRE(climate.ok());
    Seen seen;
    bench.start(
        [](Bench& b, Pump& p, Balance& scale, TipCounter& c, ClimateSensor& air, Seen& log) -> Task<void> {
            Outcome outcome = co_await p.set_flow(60);
            log.push_back(shown(outcome));
            Result<ClimateReading> reading = co_await air.read();
            REQUIRE(reading.ok());
            CHECK(reading->water_temperature_C == Approx(20.5).margin(1));
            int edges = 0;
            double last_s = 0;
            while (edges < 20) {
                Result<ContactEdge> edge = co_await c.next();
                REQUIRE(edge.ok());
                CHECK(edge->time_s >= last_s);
                CHECK(edge->time_s <= b.clock->now_s() + 1e-9);
                last_s = edge->time_s;
                ++edges;
            }
            Outcome tared = co_await scale.tare();
            log.push_back(shown(tared));
            for (int i = 0; i < 50; ++i) {
                Result<WeightReading> weight = co_await scale.next();
                REQUIRE(weight.ok());
                CHECK(weight->decimals == 2);
            }
            outcome = co_await p.stop();
            log.push_back(shown(outcome));
            b.clock->stop();
        }(bench, **pump, **balance, **counter, **climate, seen));
    bench.clock->run();
    devices.stop();
    CHECK(seen == Seen{"done", "done", "done"});
}

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
    Task<Outcome> write(std::span<const std::byte> bytes) override { return link_->write(bytes); }
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
    Outcome written = co_await far_ends[which]->write(std::as_bytes(std::span(text)));
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

TEST_CASE("a balance whose cable stays out is lost after the longest silence") {
    Bench bench;
    std::vector<std::unique_ptr<Link>> far_ends;
    auto made = make_balance(bench.profile("generic-balance-print"),
                             std::make_unique<PulledCable>(bench.context, far_ends, 1000), *bench.clock,
                             bench.context);
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
    Bench bench;
    std::vector<std::unique_ptr<Link>> far_ends;
    auto made =
        make_pump(bench.profile("generic-pump-ascii"),
                  std::make_unique<PulledCable>(bench.context, far_ends, 3), *bench.clock, bench.context);
    bench.start(pull(*bench.clock, far_ends, 2));
    Seen seen;
    bench.start([](Clock& clock, Pump& pump, Seen& log) -> Task<void> {
        co_await clock.sleep_until(1.9);
        Outcome outcome = co_await pump.set_flow(10);
        log.push_back(shown(outcome) + " @" + std::to_string(clock.now_s()));
        outcome = co_await pump.set_flow(11);
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
    CHECK(heard == "STOP\r");
}

TEST_CASE("a stop that is asked while the cable is out reaches the pump when it is back") {
    Bench bench;
    std::vector<std::unique_ptr<Link>> far_ends;
    auto made =
        make_pump(bench.profile("generic-pump-ascii"),
                  std::make_unique<PulledCable>(bench.context, far_ends, 0), *bench.clock, bench.context);
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
