#include "bench/virtual_bench/contact_physics.hpp"

#include <algorithm>

namespace tipwright::bench {

namespace {
// Edges of one contact cannot coincide.
constexpr double least_gap_s = 2e-6;
constexpr int most_bounces = 3;
// A storm has 10 to 30 bounces, twice as many edges.
constexpr int least_storm = 10;
// Contacts bounce less when the magnet leaves.
constexpr double leaving_bounce_share = 0.5;
// Mechanical play of a contact edge is cut off at this many standard deviations.
constexpr double play_cut = 4;
}  // namespace

ContactPhysics::ContactPhysics(const calib::Gauge& gauge, const GaugeTruth& truth, double edge_time_u_s,
                               Random dice)
    : contacts_(gauge.contacts),
      movement_s_(truth.movement_time_s),
      closure_s_(truth.closure_s),
      bounce_probability_(truth.bounce_probability),
      bounce_s_(truth.bounce_s),
      second_delay_s_(truth.second_contact_delay_s),
      edge_time_u_s_(edge_time_u_s),
      lead_s_(std::max(0.0, movement_s_ - closure_s_ / 2 - play_cut * edge_time_u_s)),
      dice_(dice) {
    if (contacts_.size() > 2) contacts_.resize(2);
}

void ContactPhysics::push(TrueEdge edge) {
    const auto later = [](const TrueEdge& a, const TrueEdge& b) { return a.time_s > b.time_s; };
    pending_.insert(std::upper_bound(pending_.begin(), pending_.end(), edge, later), edge);
}

void ContactPhysics::schedule(int contact, double start_s) {
    if (contact == missing_contact_ && dice_.happens(miss_probability_)) return;
    const auto index = static_cast<std::size_t>(contact - 1);
    const bool active = !contacts_[index].normally_closed;
    double& last = last_scheduled_s_[index];
    const auto toggle_at = [&](double time_s, bool state) {
        last = std::max(time_s, last + least_gap_s);
        push({last, contact, state});
    };
    const auto edge_with_bounce = [&](double time_s, bool state, double probability) {
        toggle_at(time_s, state);
        const bool storm = storm_s_ > 0;
        if (!storm && !dice_.happens(probability)) return;
        const int bounces =
            storm ? least_storm + dice_.below(2 * least_storm) : 1 + dice_.below(most_bounces);
        std::vector<double> flips_s(static_cast<std::size_t>(2 * bounces));
        for (double& flip_s : flips_s) flip_s = dice_.between(0, storm ? storm_s_ : bounce_s_);
        std::sort(flips_s.begin(), flips_s.end());
        bool now = state;
        for (const double flip_s : flips_s) {
            now = !now;
            toggle_at(time_s + flip_s, now);
        }
    };
    edge_with_bounce(start_s, active, bounce_probability_);
    edge_with_bounce(std::max(start_s + closure_s_, last + least_gap_s), !active,
                     bounce_probability_ * leaving_bounce_share);
}

void ContactPhysics::miss(int contact, double probability) {
    missing_contact_ = contact;
    miss_probability_ = probability;
}

void ContactPhysics::on_movement(const Movement& movement) {
    const double level_s = movement.started_s + movement.duration_s;
    const double play_s = edge_time_u_s_ * std::clamp(dice_.normal(), -play_cut, play_cut);
    close_once(std::max(movement.started_s, level_s - closure_s_ / 2 + play_s));
}

void ContactPhysics::close_once(double time_s) {
    if (!contacts_.empty()) schedule(1, time_s);
    if (contacts_.size() > 1) schedule(2, time_s + second_delay_s_ * dice_.between(0.5, 1.5));
}

std::optional<double> ContactPhysics::next_edge_s() const {
    if (pending_.empty()) return std::nullopt;
    return pending_.back().time_s;
}

std::optional<TrueEdge> ContactPhysics::take_edge(double until_s) {
    if (pending_.empty() || pending_.back().time_s > until_s) return std::nullopt;
    const TrueEdge edge = pending_.back();
    pending_.pop_back();
    return edge;
}

}  // namespace tipwright::bench
