// VirtualBench: a bench with a gauge on it that exists only as numbers, reached by the same bytes as a real
// one. Gives the controller its ends of the links by role: "pump", "balance", "counter", "climate".
// The clock and the context must outlive it; stop() or the destructor ends its tasks.
#pragma once

#include <array>
#include <cstdint>
#include <memory>
#include <string>
#include <string_view>

#include "bench/clock/clock.hpp"
#include "bench/instruments/profile.hpp"
#include "bench/links/link.hpp"
#include "bench/virtual_bench/curve.hpp"
#include "bench/virtual_bench/physics.hpp"
#include "bench/virtual_bench/truth.hpp"
#include "calib/base/gauge.hpp"
#include "calib/weighing/metrology.hpp"

namespace tipwright::bench {

class VirtualBench {
public:
    static constexpr std::array<std::string_view, 4> roles = {"pump", "balance", "counter", "climate"};

    VirtualBench(Clock& clock, boost::asio::io_context& context, const calib::Gauge& gauge,
                 const GaugeTruth& gauge_truth, const BenchTruth& bench_truth,
                 const calib::BenchMetrology& metrology, std::uint64_t seed, const BenchFaults& faults = {});
    ~VirtualBench();
    VirtualBench(const VirtualBench&) = delete;
    VirtualBench& operator=(const VirtualBench&) = delete;

    // Before start: this end of some link is the device's, in place of a lockstep pipe.
    void attach(std::string_view role, std::unique_ptr<Link> device_end);
    // The controller's end of that role's lockstep pipe; once. Null for an unknown role, or one attached.
    std::unique_ptr<Link> take_link(std::string_view role);

    // Before start: that instrument speaks as this profile says.
    void speak(std::string_view role, const InstrumentProfile& profile);

    // Switches the instruments on, at most once.
    void start();
    // Closes the links; every task ends.
    void stop();

    // Truth, for tests. physics() is as of the last look; call advance_to for a later time.
    BenchPhysics& physics();
    const GaugeCurve& curve() const;

private:
    struct Parts;
    std::unique_ptr<Parts> parts_;
};

}  // namespace tipwright::bench
