// Send right: the right to put bytes on a link, so that nobody sets a pump going in passing. Made only by
// those who answer for what they send: instruments by their profiles (a flow with a WaterPermit alone), the
// guard for a person's own bytes to its pump, UnguardedRight for those to what is no pump or has its bytes to
// stop, learning with questions that only read, and the virtual instruments at the other end. Who passes
// bytes on passes the right on.
#pragma once

namespace tipwright::bench {

class SendRight {
private:
    friend class LinkUser;
    friend class WaterGuard;
    friend class UnguardedRight;
    friend class LearningSession;
    friend class VirtualDevice;
    friend class DialectLink;
    friend class TestSend;  // defined by tests of single links, nowhere else
    SendRight() = default;
};

}  // namespace tipwright::bench
