#include "calib/trial/poisson.hpp"

#include "calib/statistics/distributions.hpp"

namespace tipwright::calib::trial {

EventRate event_rate(int events, double exposure, double coverage) {
    EventRate out{events, exposure, events / exposure, 0, 0};
    const double tail = (1 - coverage) / 2;
    if (events > 0) out.low = chi_squared_quantile(tail, 2.0 * events) / 2 / exposure;
    out.high = chi_squared_quantile(1 - tail, 2.0 * events + 2) / 2 / exposure;
    return out;
}

}  // namespace tipwright::calib::trial
