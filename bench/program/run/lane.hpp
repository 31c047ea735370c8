// Lane: the instruments of one gauge, made from a bench description: real ones over their links, or those
// of a virtual bench, reached by the same bytes.
#pragma once

#include <cstdint>
#include <filesystem>
#include <memory>

#include "bench/descriptions/descriptions.hpp"
#include "bench/instruments/roles.hpp"
#include "bench/run/run.hpp"
#include "bench/run/supervision.hpp"
#include "bench/virtual_bench/virtual_bench.hpp"

namespace tipwright::program {

// Some instrument is simulated inside this process. A virtual bench served elsewhere has none.
bool has_virtual_links(const bench::BenchDescription& bench);

// The pump of a real bench alone; the supervision's watchdog knows its link.
Result<std::unique_ptr<bench::Pump>> connect_pump(boost::asio::io_context& context, bench::Clock& clock,
                                                  const bench::BenchDescription& bench,
                                                  const std::filesystem::path& templates,
                                                  bench::Supervision& supervision);

class LaneInstruments {
public:
    // The supervision's watchdog knows the pump's link; it outlives the instruments. Null: in trials.
    // Faults: of the profiles and links; missing_field for a role the bench does not have.
    static Result<std::unique_ptr<LaneInstruments>> make(
        boost::asio::io_context& context, bench::Clock& clock, const bench::BenchDescription& bench,
        const bench::GaugeDescription& gauge, std::uint64_t seed, const std::filesystem::path& templates,
        const bench::BenchFaults& faults = {}, bench::Supervision* supervision = nullptr);

    bench::Lane lane() { return {*pump_, *balance_, *counter_, climate_.get(), std::nullopt}; }
    // Null on a real bench.
    bench::VirtualBench* virtual_bench() { return virtual_.get(); }
    // Closes every link; tasks end.
    void close();

private:
    std::unique_ptr<bench::VirtualBench> virtual_;
    std::unique_ptr<bench::Pump> pump_;
    std::unique_ptr<bench::Balance> balance_;
    std::unique_ptr<bench::TipCounter> counter_;
    std::unique_ptr<bench::ClimateSensor> climate_;
};

}  // namespace tipwright::program
