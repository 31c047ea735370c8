// Must compile with WITH_PERMIT and not without: a flow is sent by whoever holds a permit, which only the
// guard makes, and which is not copied.
#include "bench/instruments/roles.hpp"

namespace tipwright::bench {

#if defined(WITH_PERMIT)
Task<Outcome> flow(Pump& pump, const WaterPermit& permit) {
    return pump.set_flow(permit, 60);
}
WaterPermit handed_on(WaterPermit permit) {
    return permit;
}
#elif defined(NO_PERMIT)
Task<Outcome> flow(Pump& pump) {
    return pump.set_flow(60);
}
#elif defined(PAST_THE_PERMIT)
Task<Outcome> flow(Pump& pump) {
    return pump.send_flow(60);
}
#elif defined(OWN_PERMIT)
Task<Outcome> flow(Pump& pump) {
    return pump.set_flow(WaterPermit(nullptr), 60);
}
#elif defined(COPIED_PERMIT)
WaterPermit twice(const WaterPermit& permit) {
    return permit;
}
#endif

}  // namespace tipwright::bench
