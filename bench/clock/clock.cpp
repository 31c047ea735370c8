#include "bench/clock/clock.hpp"

namespace tipwright::bench {

// Not a coroutine of its own: one frame fewer for each sleep.
Task<void> Clock::sleep_for(double duration_s) {
    return sleep_until(now_s() + duration_s);
}

}  // namespace tipwright::bench
