// False-alarm and missed-alarm rates of the detectors of calib/tips/tip_checks.hpp, calib/tips/contacts.hpp:
// 20 000 synthetic collects without a fault against the stated rate (and three standard deviations of the
// count), 4000 with one.
#include <cmath>
#include <cstdio>
#include <functional>
#include <string>

#include "tests/calib/synthetic_tips.hpp"

using namespace tipwright::calib;
using namespace tipwright::calib::synthetic;

namespace {

constexpr int sound_cases = 20000;
constexpr int faulty_cases = 4000;
constexpr double alpha = default_false_alarm_rate;

void figure(const std::string& name, double percent, double limit_percent) {
    std::printf("figure %s %.3f %% limit <= %.3f %s\n", name.c_str(), percent, limit_percent,
                percent <= limit_percent ? "ok" : "short");
}

void false_alarms(const std::string& name, const std::function<bool(Dice&)>& speaks) {
    Dice dice(20260302);
    int alarms = 0;
    for (int i = 0; i < sound_cases; ++i) alarms += speaks(dice) ? 1 : 0;
    figure("false_alarms_" + name, 100.0 * alarms / sound_cases,
           100 * (alpha + 3 * std::sqrt(alpha / sound_cases)));
}

void missed_alarms(const std::string& name, double limit_percent, const std::function<bool(Dice&)>& speaks) {
    Dice dice(19970715);
    int missed = 0;
    for (int i = 0; i < faulty_cases; ++i) missed += speaks(dice) ? 0 : 1;
    figure("missed_alarms_" + name, 100.0 * missed / faulty_cases, limit_percent);
}

bool names(const std::vector<Finding>& findings, FindingKind kind) {
    for (const Finding& finding : findings)
        if (finding.kind() == kind) return true;
    return false;
}

Gauge gauge_of(Dice& dice) {
    Gauge gauge;
    gauge.nominal_tip_mm = 0.2;
    gauge.catch_diameter_mm = {dice.uniform(150, 254), 0.1, infinite_dof};
    gauge.contacts.resize(1);
    return gauge;
}

// Volume per tip of a sound gauge as tests and papers find it.
double sound_volume_mL(const Gauge& gauge, double flow_mL_s, Dice& dice) {
    return gauge.nominal_tip_mL() * dice.normal(1, 0.12) + dice.normal(0.45, 0.15) * flow_mL_s;
}

std::vector<Finding> contact_findings(Dice& dice, const std::function<void(ContactEdges&, Dice&)>& spoil,
                                      double scatter_of_delay_s = 0.0005) {
    Collect collect = ordinary_collect(dice, false);
    const std::vector<double> times = tip_times(collect);
    const double delay_s = dice.uniform(-0.01, 0.01);
    ContactEdges first = contact_edges(times, 0, 0, false, dice);
    ContactEdges second = contact_edges(times, delay_s, scatter_of_delay_s, true, dice);
    spoil(second, dice);
    const auto seen =
        reconcile(closures_of(first.edges, false, 0.25), closures_of(second.edges, true, 0.25), 0.25, true);
    return check_contacts(seen, 0.25, collect.series.compartments);
}

// Removes the edges of one closure.
void lose(ContactEdges& contact, std::size_t tip) {
    const double from_s = contact.times_s[tip] - 0.001;
    std::erase_if(contact.edges,
                  [&](const Edge& edge) { return edge.time_s > from_s && edge.time_s < from_s + 0.3; });
}

}  // namespace

int main() {
    for (const bool weighing : {true, false}) {
        const std::string how = weighing ? "_weighed" : "_by_intervals";
        false_alarms("phantom_tips" + how, [&](Dice& dice) {
            return !check_phantom_tips(ordinary_collect(dice, weighing).series).empty();
        });
        // By intervals alone three false closures in twelve tips can look like a bucket badly out of balance.
        missed_alarms("phantom_closures" + how, weighing ? 1 : 2, [&](Dice& dice) {
            Collect collect = ordinary_collect(dice, weighing);
            for (int k = dice.whole(1, 3); k > 0; --k) add_phantom_closure(collect, dice);
            return names(check_phantom_tips(collect.series), FindingKind::phantom_tips);
        });
        missed_alarms("early_tips" + how, 1, [&](Dice& dice) {
            Collect collect = ordinary_collect(dice, weighing);
            for (int k = dice.whole(1, 3); k > 0; --k) add_early_tip(collect, dice);
            return names(check_phantom_tips(collect.series), FindingKind::phantom_tips);
        });
        missed_alarms("lost_closures" + how, 1, [&](Dice& dice) {
            Collect collect = ordinary_collect(dice, weighing);
            for (int k = dice.whole(1, 3); k > 0; --k) lose_closure(collect, dice);
            return names(check_phantom_tips(collect.series), FindingKind::missed_closure);
        });
    }
    false_alarms("blocked_funnel_trend", [](Dice& dice) {
        return check_funnel_trend(ordinary_collect(dice, false).series).has_value();
    });
    missed_alarms("blocked_funnel_to_90_percent", 1, [](Dice& dice) {
        Collect collect = ordinary_collect(dice, false);
        block_funnel(collect, 0.9);
        return check_funnel_trend(collect.series).has_value();
    });
    const auto balance = [](Dice& dice, double excess) {
        Collect collect = ordinary_collect(dice, false);
        while (collect.series.compartments != 2) collect = ordinary_collect(dice, false);
        std::vector<double>& intervals = collect.series.interval_s;
        for (std::size_t k = 0; k < intervals.size(); ++k)
            intervals[k] *=
                (1 + (k % 2 == 0 ? excess : -excess)) / (1 + (k % 2 == 0 ? collect.excess : -collect.excess));
        const auto seen = balance_from_intervals(intervals, true);
        return seen && check_compartments(*seen).has_value();
    };
    // The worst sound gauge: right at the allowed 2.5 %.
    false_alarms("unequal_compartments", [&](Dice& dice) { return balance(dice, 0.025); });
    missed_alarms("compartments_10_percent_apart", 1, [&](Dice& dice) { return balance(dice, 0.05); });

    const auto disturbed = [](Dice& dice, double change_g) {
        Collect collect = ordinary_collect(dice, true);
        while (collect.mean_interval_s <= 6) collect = ordinary_collect(dice, true);
        std::vector<double>& mass_g = collect.series.mass_g;
        mass_g[static_cast<std::size_t>(dice.whole(0, static_cast<int>(mass_g.size()) - 1))] += change_g;
        const double total_g = collect.tip_g * static_cast<double>(mass_g.size());
        return check_balance_disturbance(collect.series, {}, total_g).has_value();
    };
    false_alarms("disturbed_balance", [&](Dice& dice) { return disturbed(dice, 0); });
    missed_alarms("weight_that_changes_by_0.5_g", 1, [&](Dice& dice) { return disturbed(dice, 0.5); });

    const auto volume = [](Dice& dice, double times) {
        const Gauge gauge = gauge_of(dice);
        const double flow_mL_s = dice.uniform(0, 1.5);
        return check_dead_compartment(times * sound_volume_mL(gauge, flow_mL_s, dice), flow_mL_s, gauge)
            .has_value();
    };
    false_alarms("dead_compartment", [&](Dice& dice) { return volume(dice, 1); });
    missed_alarms("dead_compartment", 2, [&](Dice& dice) { return volume(dice, 2); });

    const Uncertain stated{0.15, 0.02, infinite_dof};
    false_alarms("drifting_evaporation", [&](Dice& dice) {
        const double loss = dice.normal(stated.value, stated.u);
        return !check_evaporation(losses(dice, loss, loss), stated).empty();
    });
    missed_alarms("evaporation_from_0.15_to_0.50_g_h", 2, [&](Dice& dice) {
        return names(check_evaporation(losses(dice, 0.15, 0.50), stated), FindingKind::drifting_evaporation);
    });

    false_alarms("contacts",
                 [](Dice& dice) { return !contact_findings(dice, [](ContactEdges&, Dice&) {}).empty(); });
    missed_alarms("contact_misses_a_tip", 0, [](Dice& dice) {
        return names(contact_findings(dice,
                                      [](ContactEdges& contact, Dice& chance) {
                                          lose(contact,
                                               static_cast<std::size_t>(chance.whole(
                                                   0, static_cast<int>(contact.times_s.size()) - 1)));
                                      }),
                     FindingKind::missed_closure);
    });
    missed_alarms("contact_closes_without_a_tip", 1, [](Dice& dice) {
        return names(
            contact_findings(dice,
                             [](ContactEdges& contact, Dice& chance) {
                                 const auto k = static_cast<std::size_t>(
                                     chance.whole(1, static_cast<int>(contact.times_s.size()) - 2));
                                 const double room_s = contact.times_s[k + 1] - contact.times_s[k];
                                 const double at_s = contact.times_s[k] + chance.uniform(0.3, room_s - 0.4);
                                 contact.edges.push_back({false, at_s});
                                 contact.edges.push_back({true, at_s + 0.05});
                                 std::sort(contact.edges.begin(), contact.edges.end(),
                                           [](const Edge& a, const Edge& b) { return a.time_s < b.time_s; });
                             }),
            FindingKind::extra_closure);
    });
    missed_alarms("contact_blind_on_one_side", 0.5, [](Dice& dice) {
        Collect collect = ordinary_collect(dice, false);
        while (collect.series.compartments != 2 || collect.series.interval_s.size() < 15)
            collect = ordinary_collect(dice, false);
        const std::vector<double> times = tip_times(collect);
        ContactEdges first = contact_edges(times, 0, 0, false, dice);
        ContactEdges second = contact_edges(times, 0.005, 0.0005, false, dice);
        for (std::size_t k = 1; k < times.size(); k += 2) lose(second, k);
        const auto seen = reconcile(closures_of(first.edges, false, 0.25),
                                    closures_of(second.edges, false, 0.25), 0.25, true);
        return names(check_contacts(seen, 0.25, 2), FindingKind::dead_compartment);
    });
    missed_alarms("contact_late_once", 1, [](Dice& dice) {
        return names(contact_findings(dice,
                                      [](ContactEdges& contact, Dice& chance) {
                                          const auto k = static_cast<std::size_t>(
                                              chance.whole(0, static_cast<int>(contact.times_s.size()) - 1));
                                          for (Edge& edge : contact.edges)
                                              if (edge.time_s > contact.times_s[k] - 0.0005 &&
                                                  edge.time_s < contact.times_s[k] + 0.2)
                                                  edge.time_s += 0.03;
                                      }),
                     FindingKind::contact_delay);
    });
    return 0;
}
