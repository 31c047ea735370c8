// What gauges of each kind cost. Any currency; a year's cost = price / years + per_year.
#pragma once

#include <map>
#include <string>

namespace tipwright::calib::trial {

struct KindCost {
    double price = 0;
    double years = 10;    // it serves
    double per_year = 0;  // calibration, visits
    double yearly() const { return price / years + per_year; }
};

struct Costs {
    std::string currency;
    std::map<std::string, KindCost> kinds;
};

}  // namespace tipwright::calib::trial
