// A process that plays the instruments of many lanes at real time on pseudo-terminals, cheaply: a pump that
// does as it is told, a balance that prints 20 times a second, a counter whose tips come at the pump's flow,
// a climate sensor. No physics: it is there to load the program, not to be measured. The program's figures
// take no share in what it costs.
#pragma once

#include <sys/types.h>

#include <atomic>
#include <cstdint>
#include <string>
#include <vector>

namespace tipwright::test {

inline constexpr std::size_t feeder_lanes_max = 16;
inline constexpr std::size_t feeder_lines_max = 16384;

// Shared with the feeder: when it sent the counter's lines, by lane and number, steady clock.
struct SentTimes {
    std::atomic<double> sent_s[feeder_lanes_max][feeder_lines_max];
};

struct FeederLane {
    // As links of a bench description.
    std::string pump;
    std::string balance;
    std::string counter;
    std::string climate;
};

class InstrumentFeeder {
public:
    InstrumentFeeder(std::size_t lanes, double tip_mL, double balance_hz);
    InstrumentFeeder(const InstrumentFeeder&) = delete;
    InstrumentFeeder& operator=(const InstrumentFeeder&) = delete;
    ~InstrumentFeeder();

    const std::vector<FeederLane>& lanes() const { return lanes_; }
    const SentTimes& sent() const { return *sent_; }

private:
    std::vector<FeederLane> lanes_;
    SentTimes* sent_ = nullptr;
    pid_t child_ = -1;
};

double steady_s();

}  // namespace tipwright::test
