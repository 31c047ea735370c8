#include "bench/virtual_bench/virtual_bench.hpp"

#include <algorithm>
#include <cstddef>
#include <exception>
#include <utility>
#include <vector>

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/io_context.hpp>

#include "bench/virtual_bench/devices.hpp"
#include "bench/virtual_bench/dialect.hpp"
#include "bench/virtual_bench/harmed_link.hpp"
#include "bench/virtual_bench/streams.hpp"

namespace tipwright::bench {

namespace {

using DevicePtr = std::shared_ptr<VirtualDevice>;

// Each task keeps its device alive; it ends at its next wake-up after the link was closed.
Task<void> listening(DevicePtr device) {
    co_await device->listen();
}
Task<void> printing(DevicePtr device) {
    co_await device->print();
}

Task<void> losing(std::shared_ptr<World> world, std::vector<DevicePtr> devices) {
    co_await world->clock.sleep_until(world->faults.link_lost_at_s);
    for (const DevicePtr& device : devices) device->close();
}

// A task that ends by an exception is a bug, except that a clock or context taken down cancels it.
void rethrow_bug(const std::exception_ptr& thrown) {
    if (!thrown) return;
    try {
        std::rethrow_exception(thrown);
    } catch (const boost::system::system_error& error) {
        if (error.code() != boost::asio::error::operation_aborted) throw;
    }
}

std::size_t index_of(std::string_view role) {
    const auto& roles = VirtualBench::roles;
    return static_cast<std::size_t>(std::find(roles.begin(), roles.end(), role) - roles.begin());
}

}  // namespace

struct VirtualBench::Parts {
    boost::asio::io_context& context;
    std::uint64_t seed;
    std::shared_ptr<World> world;
    GaugeCurve curve;
    std::array<std::unique_ptr<Link>, roles.size()> device_ends;
    std::array<std::unique_ptr<Link>, roles.size()> controller_ends;
    std::vector<DevicePtr> devices;
    std::array<std::unique_ptr<Dialect>, roles.size()> dialects;
};

VirtualBench::VirtualBench(Clock& clock, boost::asio::io_context& context, const calib::Gauge& gauge,
                           const GaugeTruth& gauge_truth, const BenchTruth& bench_truth,
                           const calib::BenchMetrology& metrology, std::uint64_t seed,
                           const BenchFaults& faults) {
    BenchPhysics physics(gauge, gauge_truth, bench_truth, metrology, seed, faults);
    const GaugeCurve curve(gauge, truth_of_one(gauge_truth, physics.errors()),
                           physics.errors().catch_diameter_mm);
    auto world = std::make_shared<World>(World{clock, std::move(physics), faults, metrology, bench_truth});
    parts_ = std::make_unique<Parts>(Parts{context, seed, std::move(world), curve, {}, {}, {}, {}});
    for (std::size_t i = 0; i < roles.size(); ++i) {
        auto pipe = make_lockstep_pair(context, "virtual " + std::string(roles[i]));
        parts_->controller_ends[i] = std::move(pipe.first);
        parts_->device_ends[i] = std::move(pipe.second);
    }
}

VirtualBench::~VirtualBench() {
    stop();
}

void VirtualBench::attach(std::string_view role, std::unique_ptr<Link> device_end) {
    const std::size_t i = index_of(role);
    if (i == roles.size()) return;
    parts_->controller_ends[i].reset();
    parts_->device_ends[i] = std::move(device_end);
}

std::unique_ptr<Link> VirtualBench::take_link(std::string_view role) {
    const std::size_t i = index_of(role);
    return i == roles.size() ? nullptr : std::move(parts_->controller_ends[i]);
}

void VirtualBench::speak(std::string_view role, const InstrumentProfile& profile) {
    const std::size_t i = index_of(role);
    if (i != roles.size()) parts_->dialects[i] = make_dialect(profile);
}

void VirtualBench::start() {
    Parts& parts = *parts_;
    if (!parts.devices.empty()) return;
    auto& ends = parts.device_ends;
    // What harms a link harms the bytes that go over it, in whatever dialect.
    const auto make = [&parts, &ends](std::string_view role) -> DevicePtr {
        std::unique_ptr<Link> link = std::move(ends[index_of(role)]);
        for (const LinkFaults& faults : parts.world->faults.links) {
            if (faults.role != role && faults.role != "all") continue;
            link = make_harmed_link(std::move(link), parts.world->clock, faults,
                                    Random(parts.seed, stream::link_faults + index_of(role)));
        }
        link = speak_dialect(std::move(link), std::move(parts.dialects[index_of(role)]));
        if (role == "pump") return make_virtual_pump(parts.world, std::move(link));
        if (role == "balance") {
            return make_virtual_balance(parts.world, std::move(link), Random(parts.seed, stream::garbage));
        }
        if (role == "counter") return make_virtual_counter(parts.world, std::move(link));
        return make_virtual_climate(parts.world, std::move(link), Random(parts.seed, stream::climate));
    };
    std::vector<DevicePtr> to_lose;
    const BenchFaults& faults = parts.world->faults;
    for (const std::string_view role : roles) {
        parts.devices.push_back(make(role));
        if (faults.link_lost_role == role || faults.link_lost_role == "all") {
            to_lose.push_back(parts.devices.back());
        }
    }
    for (const DevicePtr& device : parts.devices) {
        boost::asio::co_spawn(parts.context, listening(device), rethrow_bug);
        boost::asio::co_spawn(parts.context, printing(device), rethrow_bug);
    }
    if (faults.link_lost_at_s >= 0) {
        boost::asio::co_spawn(parts.context, losing(parts.world, std::move(to_lose)), rethrow_bug);
    }
}

void VirtualBench::stop() {
    for (const DevicePtr& device : parts_->devices) device->close();
}

BenchPhysics& VirtualBench::physics() {
    return parts_->world->physics;
}
const GaugeCurve& VirtualBench::curve() const {
    return parts_->curve;
}

}  // namespace tipwright::bench
