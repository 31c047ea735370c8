#include "bench/virtual_bench/rain_gauge.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "bench/virtual_bench/streams.hpp"

namespace tipwright::bench {

namespace {
constexpr double step_s = 1;
constexpr std::uint64_t rain_tips_stream = 40;
constexpr std::uint64_t rain_contacts_stream = 41;
// Less than this in funnel and tube counts as empty.
constexpr double empty_mL = 1e-9;

GaugeTruth wet(GaugeTruth truth) {
    truth.wetting_mL = 0;
    return truth;
}
}  // namespace

RainGauge::RainGauge(const calib::Gauge& gauge, const GaugeTruth& truth, double catch_diameter_mm,
                     std::uint64_t seed)
    : gauge_(gauge),
      area_cm2_(std::numbers::pi / 400 * catch_diameter_mm * catch_diameter_mm),
      inlet_(wet(truth), step_s),
      mechanism_(gauge, truth, Random(seed, rain_tips_stream)),
      contacts_(gauge, truth, 0, Random(seed, rain_contacts_stream)) {
    // Some rain before, so that the compartment holds anything between nothing and a tip.
    Random dice(seed, rain_tips_stream + 5);
    const double before_mL = dice.between(20, 30) * (gauge.nominal_tip_mL() + truth.siphon_volume_mL);
    mechanism_.advance(-before_mL / 0.05, before_mL / 0.05, 0.05, started_, discharged_);
    started_.clear();
    discharged_.clear();
}

void RainGauge::pass(double mm_h, double dt_s) {
    const double in_mL = mm_h * area_cm2_ / 36000 * dt_s;
    fallen_mm_ += mm_h * dt_s / 3600;
    const double out_mL = dt_s == step_s ? inlet_.step(in_mL) : in_mL;
    mechanism_.advance(time_s_, dt_s, out_mL / dt_s, started_, discharged_);
    discharged_.clear();
    for (const Movement& movement : started_) contacts_.on_movement(movement);
    started_.clear();
    time_s_ += dt_s;
    while (const auto edge = contacts_.take_edge(time_s_)) {
        const auto index = static_cast<std::size_t>(edge->contact - 1);
        const bool closes = edge->closed != gauge_.contacts[index].normally_closed;
        if (closes) tips_.push_back({edge->time_s, edge->contact});
    }
}

std::vector<LoggedTip> RainGauge::stand_in(VirtualRain& rain, double until_s) {
    tips_.clear();
    while (time_s_ < until_s) {
        const VirtualRain::Piece piece = rain.at(time_s_);
        double end = std::min(piece.until_s, until_s);
        if (every_s_ > 0) end = std::min(end, (std::floor(time_s_ / every_s_) + 1) * every_s_);
        const bool dry = piece.mm_h == 0 && inlet_.standing_mL() < empty_mL && !contacts_.next_edge_s();
        if (dry) {
            // Nothing moves until it rains again.
            mechanism_.advance(time_s_, end - time_s_, 0, started_, discharged_);
            for (const Movement& movement : started_) contacts_.on_movement(movement);
            started_.clear();
            discharged_.clear();
            time_s_ = end;
        } else {
            while (time_s_ < end) pass(piece.mm_h, std::min(step_s, end - time_s_));
        }
        if (every_s_ > 0 && std::fmod(time_s_, every_s_) == 0) amounts_mm_.push_back(fallen_mm_);
    }
    return tips_;
}

}  // namespace tipwright::bench
