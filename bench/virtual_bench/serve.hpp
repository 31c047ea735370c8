// Serving: a virtual bench whose four instruments other processes can open, on pseudo-terminals or TCP ports
// of the loopback interface, at wall-clock speed times a factor. The one who drives it must use a clock of
// the same speed. Nothing is printed; the caller learns the addresses and says when to stop.
#pragma once

#include <array>
#include <cstdint>
#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "bench/clock/clock.hpp"
#include "bench/virtual_bench/truth.hpp"
#include "bench/virtual_bench/virtual_bench.hpp"
#include "calib/base/fault.hpp"
#include "calib/base/gauge.hpp"
#include "calib/weighing/metrology.hpp"

namespace tipwright::bench {

enum class ServeOn { pseudo_terminals, tcp };

struct ServeSettings {
    calib::Gauge gauge;
    GaugeTruth gauge_truth;
    BenchTruth bench_truth;
    calib::BenchMetrology metrology;
    std::uint64_t seed = 1;
    BenchFaults faults;
    ServeOn on = ServeOn::pseudo_terminals;
    std::uint16_t first_port = 0;             // tcp: this and the next three; 0: any free ones
    std::vector<InstrumentProfile> profiles;  // what each role speaks; absent: the devices' own words
    // Descriptor from which lines "load GRAMS" are taken: what a hand puts on the pan. -1: none.
    int hand = -1;
};

struct ServedInstrument {
    std::string role;     // pump, balance, counter, climate
    std::string address;  // as a bench description writes a link: "pty /dev/pts/3", "tcp 127.0.0.1:4001"
};

// One served bench. Several may share a context and a clock: one for each lane.
class BenchServer {
public:
    // Opens the lines; instruments() then says where. Fault: file_unwritable.
    static Result<std::unique_ptr<BenchServer>> open(boost::asio::io_context& context, Clock& clock,
                                                     const ServeSettings& settings);

    const std::vector<ServedInstrument>& instruments() const { return instruments_; }
    VirtualBench& bench() { return *bench_; }

private:
    BenchServer() = default;
    std::unique_ptr<VirtualBench> bench_;
    std::vector<ServedInstrument> instruments_;
};

// Serves until the bench time is over (0: for ever) or the signal SIGINT or SIGTERM comes, on a clock of
// that speed (0.1 to 1000). ready is called once, when the lines are open. Fault: bad_value, file_unwritable.
Outcome serve(const ServeSettings& settings, double speed, double duration_s,
              const std::function<void(const std::vector<ServedInstrument>&)>& ready);

}  // namespace tipwright::bench
