// Rate of rare events with its exact interval from the Poisson distribution: Garwood 1936, Biometrika 28,
// 437:
//   chi2(a/2; 2n)/2 to chi2(1 - a/2; 2n + 2)/2, over the exposure (gauge-years). For n = 0 from 0.
// Errors: below 1e-3 against Garwood's table as usually printed (tests/calib/trial/place_test.cpp).
#pragma once

namespace tipwright::calib::trial {

struct EventRate {
    int events = 0;
    double exposure = 0;  // > 0
    double per_unit = 0;
    double low = 0;
    double high = 0;
};

EventRate event_rate(int events, double exposure, double coverage = 0.95);

}  // namespace tipwright::calib::trial
