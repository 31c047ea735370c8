#include "bench/instruments/roles.hpp"

namespace tipwright::bench {

Fault unidentified(const std::string& name) {
    return {FaultCode::inconsistent, "its profile has no entry for the question who it is", name,
            "read its type plate"};
}

Task<Result<std::string>> Instrument::identify() {
    co_return unidentified(name());
}

// NOLINTNEXTLINE(performance-unnecessary-value-param): whoever has a link keeps the listener.
void Instrument::on_link_change(LinkListener) {}

Task<Outcome> Pump::set_flow(const WaterPermit& permit, double flow_mL_min) {
    if (auto refused = permit.refusal(*this, name())) co_return *refused;
    co_return co_await send_flow(flow_mL_min);
}

}  // namespace tipwright::bench
