// What every instrument does with its link.
#include "tests/bench/scripted_instrument.hpp"
#include "tests/support/test_permit.hpp"

using namespace tipwright;
using namespace tipwright::bench;
using namespace tipwright::test;

namespace {

// Another program holds its lock: said with the first message, whose bytes go all the same.
class TakenLink final : public Link {
public:
    explicit TakenLink(std::unique_ptr<Link> link) : link_(std::move(link)) {}
    std::string name() const override { return link_->name(); }
    Task<Result<std::size_t>> read_some(std::span<std::byte> into) override { return link_->read_some(into); }
    Task<Outcome> write(SendRight right, std::span<const std::byte> bytes) override {
        auto written = co_await link_->write(right, bytes);
        if (!written || std::exchange(said_, true)) co_return written;
        co_return Fault{FaultCode::not_permitted, "another program uses the link by now", name(), ""};
    }
    void close() override { link_->close(); }

private:
    std::unique_ptr<Link> link_;
    bool said_ = false;
};

}  // namespace

TEST_CASE(
    "that another program uses an instrument's link is told, and the instrument hears what it is sent") {
    Bench bench;
    auto made = make_pump(bench.profile("generic-pump-ascii"), std::make_unique<TakenLink>(bench.near_link()),
                          *bench.clock, bench.context);
    REQUIRE(made.ok());
    Seen told;
    (*made)->on_link_change([&](LinkChange change, const std::string& what) {
        if (change == LinkChange::taken) told.push_back(what);
    });
    bench.answer_with([](const std::string& command) { return "OK " + command + "\r\n"; });
    Seen outcomes;
    bench.start([](Pump& pump, Seen& log) -> Task<void> {
        log.push_back(shown(co_await pump.set_flow(TestPermit::get(), 10)));
        log.push_back(shown(co_await pump.stop()));
    }(**made, outcomes));
    bench.clock->run();
    CHECK(outcomes == Seen{"done", "done"});
    CHECK(bench.commands == Seen{"FLOW 10.000", "STOP"});
    CHECK(told == Seen{"another program uses the link by now"});
}
