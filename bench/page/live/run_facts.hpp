// RunFacts: what there is to say about one run, now. Made from its journal alone (live_run.hpp) and from
// whether a process holds that journal; shown by bench/page/views/.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include "bench/page/live/came_out.hpp"
#include "bench/run/sequence.hpp"
#include "calib/base/fault.hpp"
#include "calib/tips/finding.hpp"

namespace tipwright::page {

// What somebody at the bench has to do now.
enum class Hand {
    none,
    empty_vessel,  // no drain valve: the run waits for it
    pull_plug,     // the pump may still turn
    look_after,    // the run ended before its end, or its program is gone
};

enum class Stand {
    begins,      // descriptions only
    running,     // a process writes it
    abandoned,   // not closed, and nobody writes it
    complete,    // closed at its end
    broken_off,  // closed before its end
    unreadable,  // see `fault`
};

enum class Judged {
    not_yet,  // the run is not complete, or nobody was asked
    at_work,
    failed,  // its results cannot be computed
    done,    // see `came_out`
};

struct RunFacts {
    std::string id;  // path of its folder within the work folder, "left" or "2031-05-04/left"
    int number = 0;  // small, unique while the page is served; names its places on a page
    Stand stand = Stand::begins;
    Hand hand = Hand::none;

    std::string serial;
    std::string kind_title;
    std::string model;
    std::string station;
    std::string customer;
    std::string plan_name;
    std::string bench_title;
    std::string operator_name;
    std::string started_at;
    std::string ended_at;
    bool is_virtual = false;
    bool invented = false;
    int contacts = 1;

    bench::RunState state = bench::RunState::idle;
    int step = 0;
    int steps = 0;
    int repeat = 1;
    int repeats = 1;
    double set_intensity_mm_h = 0;
    std::optional<double> measured_intensity_mm_h;
    std::optional<double> volume_per_tip_mL;
    std::optional<double> error_percent;
    std::optional<double> error_U_percent;
    double target_U_percent = 1;
    int tips = 0;                       // of the collect in hand
    std::array<int, 2> contact_tips{};  // of the step in hand, contact 1 and 2
    int all_tips = 0;                   // of the run
    double mass_g = 0;                  // last reading
    double flow_mL_min = 0;             // as commanded
    double vessel_capacity_g = 0;
    double time_s = 0;       // bench time of the last entry
    double time_left_s = 0;  // of the steps, at least
    double planned_s = 0;    // what the whole plan needs at least
    int steps_done = 0;

    Judged judged = Judged::not_yet;
    CameOut came_out;

    std::vector<calib::Finding> findings;
    std::vector<std::string> remarks;   // as the run wrote them, the newest
    std::vector<double> remarked_at_s;  // bench time of each
    int remarks_left_out = 0;           // older ones
    std::optional<Fault> fault;         // why it ended before its end, or cannot be read
    int changes = 0;                    // grows when a collect is closed: charts are then to be drawn anew
};

}  // namespace tipwright::page
