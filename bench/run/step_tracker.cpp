#include "bench/run/step_tracker.hpp"

#include <algorithm>
#include <cmath>
#include <span>
#include <utility>

#include "calib/tips/collect_check.hpp"
#include "calib/tips/shift_checks.hpp"

namespace tipwright::bench {

namespace {

// So many tips without a pause are continuous flow: an emptying delivers two or three.
constexpr std::size_t tips_without_pause = 12;

// So many times its resolution and repeatability away from its neighbours, no reading is by itself.
constexpr double spike_deviations = 10;

}  // namespace

StepTracker::StepTracker(const calib::Gauge& gauge, const calib::BenchMetrology& metrology)
    : gauge_(gauge),
      metrology_(metrology),
      tips_(gauge),
      spike_margin_g_(spike_deviations *
                      std::hypot(metrology.balance.resolution_g, metrology.balance.repeatability_g)) {}

void StepTracker::begin_step(int step, double set_intensity_mm_h) {
    keep_losses();
    step_ = step;
    set_intensity_mm_h_ = set_intensity_mm_h;
    weights_.clear();
    spikes_ = 0;
    for (auto& edges : edges_) edges.clear();
    first_tip_of_step_ = tips_.tips().size();
    // The last known conditions hold until new ones are read.
    if (climates_.size() > 1) climates_.erase(climates_.begin(), climates_.end() - 1);
}

void StepTracker::weight(double time_s, double mass_g) {
    if (weights_.size() >= 2) {
        const double before_g = weights_[weights_.size() - 2].mass_g;
        const double alone_g = weights_.back().mass_g;
        if (alone_g < std::min(before_g, mass_g) - spike_margin_g_ ||
            alone_g > std::max(before_g, mass_g) + spike_margin_g_) {
            weights_.pop_back();
            ++spikes_;
        }
    }
    weights_.push_back({time_s, mass_g});
}

void StepTracker::keep_losses() {
    const std::span<const calib::Tip> tips(tips_.tips());
    for (const auto& loss :
         calib::losses_between_tips(tips.subspan(first_tip_of_step_), weights_, metrology_))
        losses_.push_back(loss);
}

std::vector<calib::LossPoint> StepTracker::losses() {
    keep_losses();
    return std::move(losses_);
}

bool StepTracker::edge(const ContactEdge& edge) {
    if (edge.contact >= 1 && edge.contact <= static_cast<int>(edges_.size()))
        edges_[static_cast<std::size_t>(edge.contact - 1)].push_back({edge.closed, edge.time_s});
    return tips_.push(edge.contact, edge.closed, edge.time_s);
}

void StepTracker::climate(const ClimateReading& reading) {
    climates_.push_back(reading);
}

bool StepTracker::may_be_edge(std::size_t tip, double now_s) const {
    if (gauge_.inlet == calib::Inlet::straight) return true;
    const auto& tips = tips_.tips();
    const double pause_s = calib::siphon_pause_s(metrology_);
    const auto ends_emptying = [&](std::size_t k) {
        const double until_s = k + 1 < tips.size() ? tips[k + 1].time_s : now_s;
        return until_s - tips[k].time_s >= pause_s;
    };
    if (ends_emptying(tip)) return true;
    // At a flow the siphon never breaks at, there are no pauses and the gauge is like one without.
    if (tip < tips_without_pause) return false;
    for (std::size_t k = tip - tips_without_pause; k <= tip; ++k) {
        if (ends_emptying(k)) return false;
    }
    return true;
}

bool StepTracker::readings_reach(std::size_t opening, std::size_t closing) const {
    const auto& tips = tips_.tips();
    if (weights_.size() < 2 || closing >= tips.size() || closing <= opening) return false;
    const auto window = calib::reading_window(tips, opening, closing, gauge_, metrology_);
    // The newest reading may still turn out to stand alone.
    return weights_[weights_.size() - 2].time_s >= tips[closing].time_s + window.to_s;
}

Result<calib::StepObservation> StepTracker::observe(std::size_t opening, std::size_t closing) const {
    auto observation = calib::observe_collect(tips_.tips(), opening, closing, weights_, gauge_, metrology_);
    if (!observation) return observation;
    observation->step = step_;
    observation->set_intensity_mm_h = set_intensity_mm_h_;
    if (spikes_ > 0) {
        observation->remarks.push_back(std::to_string(spikes_) +
                                       " balance readings stood alone and were left out as garbled");
    }
    if (!climates_.empty()) {
        calib::Conditions mean{0, 0, 0, 0};
        const auto n = static_cast<double>(climates_.size());
        for (const auto& reading : climates_) {
            mean.water_temperature_C += reading.water_temperature_C / n;
            mean.air_temperature_C += reading.air_temperature_C / n;
            mean.air_pressure_hPa += reading.air_pressure_hPa / n;
            mean.relative_humidity_percent += reading.relative_humidity_percent / n;
        }
        observation->conditions = mean;
    }
    return observation;
}

std::vector<calib::Finding> StepTracker::what_the_tips_say(const calib::StepObservation& observation,
                                                           std::size_t opening, std::size_t closing) const {
    const calib::CollectEvidence evidence{tips_.tips(), opening, closing, weights_, edges_};
    auto findings = calib::check_collect(evidence, observation, gauge_, metrology_);
    if (gauge_.compartments == 1 && first_tip_of_step_ + 1 < opening && findings.empty()) {
        const auto series =
            calib::series_of(tips_.tips(), first_tip_of_step_, closing, weights_, gauge_, metrology_);
        if (auto shifted = calib::check_water_since_settle(series, opening - first_tip_of_step_))
            findings.push_back(std::move(*shifted));
    }
    return findings;
}

std::vector<calib::Finding> StepTracker::what_the_tips_say_so_far() const {
    // The first interval of a step may hold water of the flow before.
    const std::size_t opening = first_tip_of_step_ + 1;
    const std::size_t tips = tips_.tips().size();
    if (tips < opening + 2) return {};
    std::size_t closing = tips - 1;
    while (closing > opening && !readings_reach(opening, closing)) --closing;
    calib::StepObservation observation;
    observation.set_intensity_mm_h = set_intensity_mm_h_;
    if (closing > opening) {
        if (auto weighed = observe(opening, closing)) observation = std::move(*weighed);
    }
    auto findings = what_the_tips_say(observation, opening, tips - 1);
    // Trims change the intervals a little: that is no blocked funnel.
    std::erase_if(findings, [](const calib::Finding& finding) {
        return finding.kind() == calib::FindingKind::blocked_funnel;
    });
    return findings;
}

}  // namespace tipwright::bench
