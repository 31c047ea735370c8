// LonePump: a pump at work without the rest of its bench (listen, recover), under the same guard as in a run:
// supervision, the pump's own time limit, its link and its answers. There is no balance to watch over it: the
// person is its only interlock. Errors: as Fault, named after the pump.
#pragma once

#include <functional>
#include <memory>
#include <string>

#include "bench/run/run.hpp"
#include "bench/run/supervision.hpp"
#include "bench/run/water_guard.hpp"

namespace tipwright::program {

class LonePump {
public:
    // `tell` is for what must reach somebody; `identities`: who the pump is, where that is known.
    LonePump(boost::asio::io_context& context, bench::Clock& clock, std::unique_ptr<bench::Pump> pump,
             bench::Supervision& supervision, bench::RunControl& control,
             std::function<void(const std::string&)> tell, bench::KnownIdentities identities = {});
    LonePump(const LonePump&) = delete;
    LonePump& operator=(const LonePump&) = delete;
    ~LonePump();

    bench::WaterGuard& guard() { return *guard_; }
    // The work, until its end or until no water may flow any more; then the pump is made safe. The first
    // Fault of these.
    bench::Task<Outcome> carry_out(std::function<bench::Task<Outcome>()> work);

private:
    struct Absent;

    std::unique_ptr<Absent> absent_;
    std::unique_ptr<bench::Pump> pump_;
    std::unique_ptr<bench::WaterGuard> guard_;
};

}  // namespace tipwright::program
