// Modem contacts: changes that come between the last look and the driver's wait, which begins to look when it
// is called (ioctl_tty(2), TIOCMIWAIT), on lines that are made here. The other tests stand in tests/serial.
#include <time.h>

#include <atomic>
#include <exception>

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/io_context.hpp>
#include <catch2/catch.hpp>

#include "bench/instruments/modem_contacts/instruments.hpp"
#include "tests/bench/within.hpp"

using namespace tipwright;
using namespace tipwright::bench;

namespace {

// Every wait is preceded by changes of CTS that it does not see. They end after so many waits.
class SlippingLines final : public ModemLines {
public:
    SlippingLines(int changes_each, int waits) : changes_each_(changes_each), waits_left_(waits) {}

    Result<ModemStates> states() override { return ModemStates{(changes_ & 1u) != 0, false, false, false}; }
    Outcome set_outputs(bool, bool) override { return Done{}; }
    bool can_wait() override { return true; }
    Result<ModemCounts> counts() override { return ModemCounts{changes_, 0, 0, 0}; }
    Result<bool> wait_for_change(const ModemStates&) override {
        if (waits_left_ > 0) {
            --waits_left_;
            changes_ += static_cast<std::uint32_t>(changes_each_);
        }
        // As the driver does: nothing changes from now on, and only a signal ends this.
        const timespec long_time{30, 0};
        ::nanosleep(&long_time, nullptr);
        return false;
    }

private:
    std::atomic<std::uint32_t> changes_{0};
    int changes_each_;
    int waits_left_;
};

// CTS changes every so many looks, so many times; the driver cannot wait.
class LookedAtLines final : public ModemLines {
public:
    LookedAtLines(int looks_each, int changes) : looks_each_(looks_each), changes_left_(changes) {}

    Result<ModemStates> states() override {
        if (++looks_ % looks_each_ == 0 && changes_left_ > 0) {
            --changes_left_;
            on_ = !on_;
        }
        return ModemStates{on_, false, false, false};
    }
    Outcome set_outputs(bool, bool) override { return Done{}; }
    bool can_wait() override { return false; }
    Result<ModemCounts> counts() override { return ModemCounts{}; }
    Result<bool> wait_for_change(const ModemStates&) override { return false; }

private:
    int looks_each_;
    int changes_left_;
    int looks_ = 0;
    bool on_ = false;
};

class LinesAlone final : public Link {
public:
    explicit LinesAlone(ModemLines& lines) : lines_(lines) {}
    std::string name() const override { return "lines"; }
    Task<Result<std::size_t>> read_some(std::span<std::byte>) override {
        co_return Fault{FaultCode::link_lost, "has no bytes", "lines", ""};
    }
    Task<Outcome> write(SendRight, std::span<const std::byte>) override { co_return Done{}; }
    void close() override {}
    ModemLines* modem_lines() override { return &lines_; }

private:
    ModemLines& lines_;
};

}  // namespace

TEST_CASE("modem contacts: a change that slips in before the driver's wait comes all the same, once") {
    const int changes_each = GENERATE(1, 2, 3);
    constexpr int waits = 40;
    CAPTURE(changes_each);
    SlippingLines lines(changes_each, waits);
    const auto profile = std::make_shared<ModemContactsProfile>();
    profile->contacts = {ModemContact{ModemInput::cts, true}};
    boost::asio::io_context context(1);
    const auto clock = make_wall_clock(context);
    int came = 0;
    int out_of_order = 0;
    int late = 0;
    const auto watch = [&]() -> Task<void> {
        const auto counter =
            make_modem_counter(profile, std::make_unique<LinesAlone>(lines), *clock, context, "counter");
        REQUIRE(counter);
        bool closed = false;
        double last_s = 0;
        for (; came < waits * changes_each; ++came) {
            // A machine under load is given time; the wait alone would last 30 s.
            const auto edge = co_await within(*clock, 20, (*counter)->next(), "counter");
            REQUIRE(edge);
            if (edge->closed == closed || edge->time_s < last_s) ++out_of_order;
            if (edge->time_s > clock->now_s()) ++late;
            closed = edge->closed;
            last_s = edge->time_s;
        }
        const auto more = co_await within(*clock, 0.2, (*counter)->next(), "counter");
        CHECK_FALSE(more);
        clock->stop();
    };
    std::exception_ptr defect;
    boost::asio::co_spawn(context, watch, [&](const std::exception_ptr& error) {
        defect = error;
        if (error) clock->stop();
    });
    clock->run();
    if (defect) std::rethrow_exception(defect);
    CHECK(came == waits * changes_each);
    CHECK(out_of_order == 0);
    CHECK(late == 0);
}

TEST_CASE("modem contacts: by looking, each change is told once and nothing where nothing changed") {
    constexpr int changes = 6;
    LookedAtLines lines(20, changes);
    const auto profile = std::make_shared<ModemContactsProfile>();
    profile->contacts = {ModemContact{ModemInput::cts, true}};
    boost::asio::io_context context(1);
    const auto clock = make_wall_clock(context);
    std::vector<bool> closed;
    const auto watch = [&]() -> Task<void> {
        const auto counter =
            make_modem_counter(profile, std::make_unique<LinesAlone>(lines), *clock, context, "counter");
        REQUIRE(counter);
        for (int k = 0; k < changes; ++k) {
            const auto edge = co_await within(*clock, 20, (*counter)->next(), "counter");
            REQUIRE(edge);
            closed.push_back(edge->closed);
        }
        CHECK_FALSE(co_await within(*clock, 0.2, (*counter)->next(), "counter"));
        clock->stop();
    };
    std::exception_ptr defect;
    boost::asio::co_spawn(context, watch, [&](const std::exception_ptr& error) {
        defect = error;
        if (error) clock->stop();
    });
    clock->run();
    if (defect) std::rethrow_exception(defect);
    CHECK(closed == std::vector<bool>{true, false, true, false, true, false});
}
