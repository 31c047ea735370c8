#include "calib/tips/contacts.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <set>

#include "calib/tips/tips.hpp"
#include "tests/calib/synthetic_tips.hpp"

using namespace tipwright::calib;
using namespace tipwright::calib::synthetic;

namespace {

std::vector<Closure> at(const std::vector<double>& times_s) {
    std::vector<Closure> closures;
    for (const double time_s : times_s) closures.push_back({time_s, 0, 0});
    return closures;
}

std::set<FindingKind> kinds(const std::vector<Finding>& findings) {
    std::set<FindingKind> out;
    for (const Finding& finding : findings) out.insert(finding.kind());
    return out;
}

}  // namespace

TEST_CASE("every finding has a name of its own") {
    std::set<std::string> names;
    for (std::size_t i = 0; i < finding_names.size(); ++i)
        names.insert(std::string(name_of(static_cast<FindingId>(i))));
    CHECK(names.size() == finding_names.size());
    CHECK(names.count("") == 0);
    CHECK(name_of(FindingId::phantom_timed) == "phantom_timed");
}

TEST_CASE("changes within the debounce time belong to one closure") {
    const std::vector<Edge> edges{{true, 1.000}, {false, 1.001}, {true, 1.003}, {false, 1.080},
                                  {true, 5.000}, {false, 5.090}, {true, 5.260}};
    const auto closures = closures_of(edges, false, 0.25);
    REQUIRE(closures.size() == 3);
    CHECK(closures[0].time_s == 1.000);
    CHECK(closures[0].bounces == 1);
    CHECK(closures[0].bounce_s == Approx(0.003));
    CHECK(closures[1].bounces == 0);
    CHECK(closures[2].time_s == 5.260);
    // A normally closed contact tips by opening.
    const auto openings = closures_of(edges, true, 0.25);
    REQUIRE(openings.size() == 2);
    CHECK(openings[0].time_s == 1.001);
    CHECK(openings[0].bounces == 1);
    CHECK(closures_of({}, false, 0.25).empty());
}

TEST_CASE("closures of a contact are the tips that a run counts") {
    Dice dice(4);
    for (int i = 0; i < 200; ++i) {
        const std::vector<double> times = tip_times(ordinary_collect(dice, false));
        const bool normally_closed = i % 2 == 0;
        const ContactEdges contact = contact_edges(times, 0, 0, normally_closed, dice);
        Gauge gauge;
        gauge.debounce_s = 0.25;
        gauge.contacts = {{normally_closed}};
        TipCollector collector(gauge);
        for (const Edge& edge : contact.edges) collector.push(1, edge.closed, edge.time_s);
        const auto closures = closures_of(contact.edges, normally_closed, 0.25);
        REQUIRE(closures.size() == times.size());
        REQUIRE(collector.tips().size() == times.size());
        for (std::size_t k = 0; k < closures.size(); ++k)
            CHECK(closures[k].time_s == collector.tips()[k].time_s);
    }
}

TEST_CASE("two contacts are reconciled tip by tip") {
    const auto seen =
        reconcile(at({10, 20, 30, 40, 50}), at({10.006, 30.004, 40.005, 44.5, 50.005}), 0.25, true);
    REQUIRE(seen.tips.size() == 6);
    CHECK(seen.agreed == 4);
    CHECK(seen.missed[0].empty());
    CHECK(seen.missed[1] == std::vector<std::size_t>{1});  // 20 s: a tip that contact 2 did not see
    CHECK(seen.extra[1] == std::vector<std::size_t>{4});   // 44.5 s: cuts an interval in two
    CHECK(seen.extra[0].empty());
    CHECK(seen.delay_mean_s == Approx(0.005));
    CHECK(seen.delay_sd_s == Approx(0.000816).epsilon(0.01));
    // With a siphon intervals say nothing: the lone closure counts as a tip that the other missed.
    const auto siphon = reconcile(at({10, 20, 30, 40, 50}), at({10, 20, 30, 34, 40, 50}), 0.25, false);
    CHECK(siphon.missed[0] == std::vector<std::size_t>{3});
    CHECK(siphon.extra[1].empty());
}

TEST_CASE("of two closures the nearer one is the partner") {
    const auto seen = reconcile(at({10.0, 10.3}), at({10.29}), 0.5, false);
    REQUIRE(seen.tips.size() == 2);
    CHECK_FALSE(seen.tips[0].closure[1]);
    CHECK(seen.tips[1].closure[1] == std::size_t{0});
    CHECK(seen.tips[1].delay_s == Approx(-0.01));
}

TEST_CASE("contacts that differ are named") {
    const auto missed =
        check_contacts(reconcile(at({10, 20, 30, 40}), at({10, 20, 40}), 0.25, true), 0.25, 2);
    REQUIRE(missed.size() == 1);
    CHECK(missed[0].id == FindingId::contact_missed);
    CHECK(missed[0].number("contact") == 2);
    CHECK(missed[0].number("count") == 1);
    CHECK(missed[0].number("tips") == 4);
    CHECK(missed[0].tips == std::vector<std::size_t>{2});
    CHECK(missed[0].false_alarm_rate == 0);
    const auto extra =
        check_contacts(reconcile(at({10, 20, 26, 30, 40}), at({10, 20, 30, 40}), 0.25, true), 0.25, 2);
    REQUIRE(extra.size() == 1);
    CHECK(extra[0].id == FindingId::contact_extra);
    CHECK(extra[0].number("contact") == 1);
    CHECK(extra[0].number("count") == 1);

    std::vector<double> all;
    std::vector<double> one_side;
    for (int k = 0; k < 20; ++k) {
        all.push_back(10.0 * k);
        if (k % 2 == 0) one_side.push_back(10.0 * k + 0.004);
    }
    const auto blind = check_contacts(reconcile(at(all), at(one_side), 0.25, true), 0.25, 2);
    REQUIRE(blind.size() == 1);
    CHECK(blind[0].kind() == FindingKind::dead_compartment);
    CHECK(blind[0].id == FindingId::contact_one_sided);
    CHECK(blind[0].number("contact") == 2);
    CHECK(blind[0].number("count") == 10);
    CHECK(blind[0].number("tips") == 20);
    // A spoon has no sides.
    CHECK(kinds(check_contacts(reconcile(at(all), at(one_side), 0.25, true), 0.25, 1)) ==
          std::set<FindingKind>{FindingKind::missed_closure});

    const auto late =
        check_contacts(reconcile(at({10, 20, 30}), at({10.15, 20.15, 30.15}), 0.25, true), 0.25, 2);
    REQUIRE(late.size() == 1);
    CHECK(late[0].id == FindingId::contact_late);
    CHECK(*late[0].number("delay_ms") == Approx(150));
    CHECK(*late[0].number("debounce_ms") == Approx(250));
}

TEST_CASE("a delay that is not like the others is named") {
    std::vector<double> first;
    std::vector<double> second;
    for (int k = 0; k < 20; ++k) {
        first.push_back(10.0 * k);
        second.push_back(10.0 * k + 0.005 + 0.0003 * (k % 3));
    }
    CHECK(check_contacts(reconcile(at(first), at(second), 0.25, true), 0.25, 2).empty());
    second[7] = first[7] - 0.03;
    const auto findings = check_contacts(reconcile(at(first), at(second), 0.25, true), 0.25, 2);
    REQUIRE(findings.size() == 1);
    CHECK(findings[0].kind() == FindingKind::contact_delay);
    CHECK(findings[0].tips == std::vector<std::size_t>{7});
    CHECK(findings[0].number("count") == 1);
    CHECK(*findings[0].number("delay_ms") == Approx(-30));
    CHECK(findings[0].false_alarm_rate == 0.001);
}

TEST_CASE("bounce is a finding only when it comes near the debounce time") {
    std::vector<Closure> closures = at({10, 20, 30});
    closures[1].bounce_s = 0.12;
    CHECK(check_bounce(closures, 1, 0.25).empty());
    closures[1].bounce_s = 0.13;
    const auto findings = check_bounce(closures, 2, 0.25);
    REQUIRE(findings.size() == 1);
    CHECK(findings[0].id == FindingId::contact_bounce);
    CHECK(findings[0].number("contact") == 2);
    CHECK(*findings[0].number("longest_ms") == Approx(130));
}

TEST_CASE("contacts that bounce and lag but agree give no finding, one lost closure always does") {
    Dice dice(11);
    int false_alarms = 0;
    for (int i = 0; i < 1000; ++i) {
        const Collect collect = ordinary_collect(dice, false);
        const std::vector<double> times = tip_times(collect);
        const ContactEdges first = contact_edges(times, 0, 0, false, dice);
        ContactEdges second = contact_edges(times, dice.uniform(-0.01, 0.01), 0.0005, true, dice);
        const auto closures = closures_of(first.edges, false, 0.25);
        const auto sound = reconcile(closures, closures_of(second.edges, true, 0.25), 0.25, true);
        false_alarms += check_contacts(sound, 0.25, collect.series.compartments).empty() ? 0 : 1;
        CHECK(sound.agreed == static_cast<int>(times.size()));

        const auto k = static_cast<std::size_t>(dice.whole(0, static_cast<int>(times.size()) - 1));
        const double from_s = second.times_s[k] - 0.001;
        std::erase_if(second.edges,
                      [&](const Edge& edge) { return edge.time_s > from_s && edge.time_s < from_s + 0.3; });
        const auto lost = reconcile(closures, closures_of(second.edges, true, 0.25), 0.25, true);
        CHECK(lost.missed[1] == std::vector<std::size_t>{k});
    }
    CHECK(false_alarms <= 4);  // 1000 cases at 0.1 %: one expected, four at three standard deviations
}
