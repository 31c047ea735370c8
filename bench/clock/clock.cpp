#include "bench/clock/clock.hpp"

namespace tipwright::bench {

Task<void> Clock::sleep_for(double duration_s) { co_await sleep_until(now_s() + duration_s); }

}  // namespace tipwright::bench
