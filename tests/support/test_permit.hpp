// A permit for tests of single instruments, where no water is and no guard stands.
#pragma once

#include "bench/instruments/water_permit.hpp"

namespace tipwright::bench {

class TestPermit {
public:
    static const WaterPermit& get() {
        static const WaterPermit permit(std::make_shared<WaterPermit::State>());
        return permit;
    }
    // Taken back while it is held.
    TestPermit() : state_(std::make_shared<WaterPermit::State>()), permit(state_) {}
    // Good for this pump only.
    explicit TestPermit(const Pump& pump) : TestPermit() { state_->pump = &pump; }
    void withdraw(Fault why) { state_->withdrawn = std::move(why); }

private:
    std::shared_ptr<WaterPermit::State> state_;

public:
    WaterPermit permit;
};

}  // namespace tipwright::bench
