// Must compile with WITH_PERMIT and not without: a flow is sent by whoever holds a permit, which only the
// guard makes, and which is not copied; bytes of one's own by whoever holds the right to send.
#include "bench/instruments/roles.hpp"
#include "bench/links/link.hpp"

namespace tipwright::bench {

#if defined(WITH_PERMIT)
Task<Outcome> flow(Pump& pump, const WaterPermit& permit) {
    return pump.set_flow(permit, 60);
}
WaterPermit handed_on(WaterPermit permit) {
    return permit;
}
Task<Outcome> passed_on(Link& link, SendRight right, std::span<const std::byte> bytes) {
    return link.write(right, bytes);
}
#elif defined(OWN_RIGHT_TO_SEND)
Task<Outcome> sent(Link& link, std::span<const std::byte> bytes) {
    return link.write(SendRight(), bytes);
}
#elif defined(EMPTY_RIGHT_TO_SEND)
Task<Outcome> sent(Link& link, std::span<const std::byte> bytes) {
    return link.write({}, bytes);
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
