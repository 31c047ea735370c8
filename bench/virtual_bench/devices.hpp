// Devices: the four instruments of a virtual bench, as they answer on their wires. Line ASCII.
//   pump     FLOW 12.345 | STOP | DRAIN OPEN | DRAIN CLOSE | TIMEOUT 2.0 | ID?  ->  OK FLOW 12.345 ... or ERR
//   reason balance  prints "W   12.34 g stable", "... moving" or "W over" by itself; TARE | W? | ID? counter
//   prints "E seq device_us contact 0|1 *CRC" for every contact change and
//            "H seq device_us *CRC" every 2 s; ID? -> "I seq device_us virtual-counter 1 *CRC". CRC-16/MODBUS
//            of all before " *", four hex digits.
//   climate  C? -> "water 20.13 C air 21.40 C pressure 1009.8 hPa humidity 48.0 %"; ID?
// Commands end with CR, lines with CR LF. An instrument answers a few milliseconds after a command.
#pragma once

#include <cstddef>
#include <cstdint>
#include <memory>
#include <string>
#include <string_view>

#include "bench/clock/clock.hpp"
#include "bench/links/link.hpp"
#include "bench/virtual_bench/physics.hpp"
#include "bench/virtual_bench/random.hpp"
#include "bench/virtual_bench/truth.hpp"

namespace tipwright::bench {

// What all devices of one bench share. The clock must outlive the running tasks.
struct World {
    Clock& clock;
    BenchPhysics physics;
    BenchFaults faults;
    calib::BenchMetrology metrology;
    BenchTruth truth;

    // The bench as it is at this moment.
    BenchPhysics& now() {
        physics.advance_to(clock.now_s());
        return physics;
    }
    bool fault_due(double at_s) const { return at_s >= 0 && clock.now_s() >= at_s; }
};

class VirtualDevice {
public:
    VirtualDevice(std::shared_ptr<World> world, std::unique_ptr<Link> link);
    virtual ~VirtualDevice() = default;

    // Reads commands and answers them until the link is lost.
    Task<void> listen();
    // Prints what the device prints unasked, until the link is lost. Most print nothing.
    virtual Task<void> print();
    void close() { link_->close(); }

protected:
    // Reply to one command, without line end.
    virtual std::string answer(std::string_view command) = 0;
    // Sends whole lines in the order given, whoever sends. False once the link is lost.
    Task<bool> send(std::string_view lines);
    World& world() { return *world_; }

private:
    std::shared_ptr<World> world_;
    std::unique_ptr<Link> link_;
    std::string outgoing_;
    bool writing_ = false;
    bool lost_ = false;
};

std::unique_ptr<VirtualDevice> make_virtual_pump(std::shared_ptr<World> world, std::unique_ptr<Link> link);
std::unique_ptr<VirtualDevice> make_virtual_balance(std::shared_ptr<World> world, std::unique_ptr<Link> link,
                                                    Random garbage);
std::unique_ptr<VirtualDevice> make_virtual_counter(std::shared_ptr<World> world, std::unique_ptr<Link> link);
std::unique_ptr<VirtualDevice> make_virtual_climate(std::shared_ptr<World> world, std::unique_ptr<Link> link,
                                                    Random dice);

}  // namespace tipwright::bench
