// StepObservation: what was seen in one collect, before any correction or uncertainty.
// Made from events by calib/tips/observe.hpp, or from supplied tables; the input of
// calib/rate/step_result.hpp.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "calib/tips/finding.hpp"

namespace tipwright::calib {

// How the balance reading that belongs to a tip was found.
enum class WeighingMethod {
    plateau,    // mean of the readings between the settled end of one discharge and the next tip
    staircase,  // mean over whole tip intervals: discharge overlaps the next tip
    supplied,   // given by whoever measured
};

// Of how many readings of balance or measure the amount of a step is made.
enum class AmountBy {
    one_difference,  // a reading at the begin, one at the end
    each_tip,        // every tip by itself, tared or in a measure: the errors of scale add up tip by tip
    chained,         // every tip by itself, but the reading after one is that before the next: only the
                     // first and the last are left in the sum
};

enum class CollectEnd { target_reached, time_limit, vessel_full, supplied };

// Scatter of single tips about the mean of their compartment, in per cent of the mean volume per tip.
struct TipScatter {
    double sd_percent = 0;
    double dof = 0;    // 0: not known
    std::string from;  // "intervals", "weighed groups", "single weighings"
    // Tips in one of the groups it was found from, in the mean: emptyings of a siphon, else 1.
    double tips_per_group = 1;
    // Correlation of tips with the one before them, about the mean of their compartment, and of how many tips
    // it was found; 0 where it is not known (calib/statistics/serial_correlation.hpp).
    double neighbours = 0;
    double neighbours_of = 0;
};

// Mean volume of compartment A over mean of both, minus 1, in per cent; B is the opposite.
struct CompartmentBalance {
    double a_excess_percent = 0;
    double u_percent = 0;
    double dof = 0;
};

struct Conditions {
    double water_temperature_C = 20;
    double air_temperature_C = 20;
    double air_pressure_hPa = 1013.25;
    double relative_humidity_percent = 50;
};

struct StepObservation {
    int step = 0;                   // 1-based, as in the plan
    int repeat = 1;                 // 1-based; 0: all repeats of the step together, calib/rate/repeats.hpp
    double set_intensity_mm_h = 0;  // 0: not stated
    int tips = 0;
    std::optional<double> duration_s;  // none: a static check
    double balance_difference_g = 0;   // last reading minus first, or the mass supplied
    bool is_volume = false;            // supplied in mL already: no buoyancy, no density
    int balance_readings_per_edge = 1;
    double weighing_scatter_u_g = 0;  // standard uncertainty of the difference as fitted
    WeighingMethod weighing = WeighingMethod::plateau;
    AmountBy amount_by = AmountBy::one_difference;
    std::vector<int> contact_counts;  // tips seen by contact 1, 2 over the same collect
    TipScatter scatter;
    std::optional<CompartmentBalance> compartments;
    Conditions conditions;
    CollectEnd ended = CollectEnd::target_reached;
    double started_s = 0;              // run time of the first tip
    std::vector<std::string> remarks;  // anything odd, in plain words
    std::vector<Finding> findings;     // what the tips say, calib/tips/collect_check.hpp

    [[nodiscard]] std::string name() const { return "step " + std::to_string(step); }
};

}  // namespace tipwright::calib
