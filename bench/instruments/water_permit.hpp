// Water permit: the right to let a pump run. Only the WaterGuard (bench/run) gives one, after it has stopped
// the pump, armed the pump's own time limit and set its watches; a command that holds none cannot send a
// flow, for Pump::set_flow asks for it. It is good for the guard's own pump and no other. It is moved, never
// copied; once withdrawn it is worth nothing and stays so.
#pragma once

#include <memory>
#include <optional>
#include <string>
#include <utility>

#include "calib/base/fault.hpp"

namespace tipwright::bench {

class Pump;
class WaterGuard;
class TestPermit;  // defined by tests of single instruments, nowhere else

class WaterPermit {
public:
    WaterPermit(WaterPermit&&) noexcept = default;
    WaterPermit& operator=(WaterPermit&&) noexcept = default;
    WaterPermit(const WaterPermit&) = delete;
    WaterPermit& operator=(const WaterPermit&) = delete;

    // Why this pump may be sent no flow; empty while it may.
    std::optional<Fault> refusal(const Pump& pump, const std::string& name) const {
        if (!state_)
            return Fault{FaultCode::not_permitted, "the permit to let water flow was given away", name, ""};
        if (state_->pump != nullptr && state_->pump != &pump)
            return Fault{FaultCode::not_permitted, "the permit to let water flow is another pump's", name,
                         ""};
        return state_->withdrawn;
    }

private:
    friend class WaterGuard;
    friend class TestPermit;
    struct State {
        const Pump* pump = nullptr;  // whose it is; null: any (tests of single instruments)
        std::optional<Fault> withdrawn;
    };
    explicit WaterPermit(std::shared_ptr<const State> state) : state_(std::move(state)) {}

    std::shared_ptr<const State> state_;
};

}  // namespace tipwright::bench
