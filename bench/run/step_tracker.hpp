// StepTracker: tips, readings and conditions of the step in hand, and the observation of its collect.
// The run feeds it live and the evaluation of a journal feeds it again: both see the same, bit for bit.
// Readings before the current settle are let go, so memory does not grow with the run.
#pragma once

#include <array>
#include <optional>
#include <vector>

#include "bench/instruments/roles.hpp"
#include "calib/base/fault.hpp"
#include "calib/base/gauge.hpp"
#include "calib/tips/contacts.hpp"
#include "calib/tips/observe.hpp"
#include "calib/tips/tip_checks.hpp"
#include "calib/weighing/metrology.hpp"

namespace tipwright::bench {

class StepTracker {
public:
    StepTracker(const calib::Gauge& gauge, const calib::BenchMetrology& metrology);

    // A settle begins: readings so far are no longer needed.
    void begin_step(int step, double set_intensity_mm_h);
    bool edge(const ContactEdge& edge);
    // A reading that stands alone, away from the one before and the one after, is garbled and left out again
    // when the one after comes: water neither leaps up nor back.
    void weight(double time_s, double mass_g);
    void climate(const ClimateReading& reading);

    // What the vessel lost on the plateaus so far, in grams an hour; to be asked once, at the end of the run.
    std::vector<calib::LossPoint> losses();

    const std::vector<calib::Tip>& tips() const { return tips_.tips(); }
    const std::vector<calib::WeightPoint>& weights() const { return weights_; }

    // Observation of the collect from tip to tip (numbers within tips()); contact counts, conditions
    // and step are filled in.
    Result<calib::StepObservation> observe(std::size_t opening, std::size_t closing) const;
    // Faults of gauge and contacts seen in that collect; for a finished one.
    std::vector<calib::Finding> what_the_tips_say(const calib::StepObservation& observation,
                                                  std::size_t opening, std::size_t closing) const;
    // The same of the step in hand so far, for a run that cannot go on. The flow may have been trimmed.
    std::vector<calib::Finding> what_the_tips_say_so_far() const;
    // True when the readings reach the end of the window after that tip, as far as can be told now.
    bool readings_reach(std::size_t opening, std::size_t closing) const;
    // A collect may open or close on this tip: always with a straight inlet; with a siphon once the
    // pause after it has shown that it ended an emptying.
    bool may_be_edge(std::size_t tip, double now_s) const;

private:
    void keep_losses();

    calib::Gauge gauge_;
    calib::BenchMetrology metrology_;
    calib::TipCollector tips_;
    std::vector<calib::WeightPoint> weights_;
    double spike_margin_g_;
    int spikes_ = 0;  // readings of this step left out
    std::vector<ClimateReading> climates_;
    std::array<std::vector<calib::Edge>, calib::max_contacts> edges_;
    std::vector<calib::LossPoint> losses_;
    std::size_t first_tip_of_step_ = 0;
    int step_ = 0;
    double set_intensity_mm_h_ = 0;
};

}  // namespace tipwright::bench
