#include "bench/run/replay.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <map>

#include "bench/descriptions/adjustment.hpp"
#include "bench/run/step_tracker.hpp"
#include "calib/tips/sides.hpp"

namespace tipwright::bench {

namespace {

std::string entry_where(const JournalEntry& entry) {
    return "journal entry " + std::to_string(entry.sequence);
}

Fault bad_entry(const JournalEntry& entry, const std::string& what) {
    return {FaultCode::damaged, what, entry_where(entry), "this is not a journal as the program writes it"};
}

// As bench/run/procedure.cpp gives the reason, now or in journals of earlier versions.
calib::FindingId dropped_for(const std::string& reason) {
    if (reason.starts_with("flow")) return calib::FindingId::dropped_flow;
    if (reason.starts_with("balance disturbed") || reason.starts_with("the weight changed"))
        return calib::FindingId::dropped_disturbed;
    return calib::FindingId::dropped;
}

constexpr const char* never_closed = "the journal was never closed: the program or the machine stopped";

// Numbers of one entry; remembers the first that is missing or none.
class Fields {
public:
    explicit Fields(const JournalEntry& entry) : entry_(entry) {}

    template <class Number>
    Number number(std::string_view name) {
        const std::string_view text = entry_.field(name);
        Number value{};
        const auto end = std::from_chars(text.data(), text.data() + text.size(), value);
        if ((end.ec != std::errc() || end.ptr != text.data() + text.size()) && bad_.empty()) bad_ = name;
        return value;
    }
    bool flag(std::string_view name) {
        const std::string_view text = entry_.field(name);
        if (text != "true" && text != "false" && bad_.empty()) bad_ = name;
        return text == "true";
    }
    std::string text(std::string_view name) const { return std::string(entry_.field(name)); }

    Outcome outcome() const {
        if (bad_.empty()) return Done{};
        return bad_entry(entry_, "field " + bad_ + " of " + std::string(entry_.kind) + " cannot be read");
    }

private:
    const JournalEntry& entry_;
    std::string bad_;
};

}  // namespace

struct Replay::State {
    ReplayedRun run;
    std::map<std::string, DescriptionText> given;
    std::optional<StepTracker> tracker;
    std::string operator_named;  // for this run, instead of the bench's
    std::optional<std::size_t> opening;
    int opened_step = 0;
    int opened_repeat = 1;
    Outcome accepted(const JournalEntry& entry, Fields& fields) {
        Concession concession;
        concession.role = fields.text("role");
        concession.serial = fields.text("serial");
        concession.since = fields.text("since");
        concession.reason = fields.text("reason");
        const std::string lack = fields.text("nonconformity");
        if (lack == "check_failed") {
            concession.nonconformity = Nonconformity::check_failed;
            concession.error_g = fields.number<double>("error_g");
            concession.mass_g = fields.number<double>("mass_g");
        } else if (lack != "calibration_overdue") {
            return bad_entry(entry, "field lack of accepted cannot be read");
        }
        run.concessions.push_back(std::move(concession));
        return fields.outcome();
    }

    std::vector<calib::LossPoint> losses;  // before the run was last resumed

    // Since somebody said which side rests up: whether even tips, counted from 0, empty B.
    std::optional<bool> even_is_b;
    char side_up_first = 0;
    bool moved = false;

    Outcome side(const JournalEntry& entry) {
        const std::string_view up = entry.field("up");
        if (up != "A" && up != "B") return bad_entry(entry, "field up of side is neither A nor B");
        const bool next_is_odd = tracker->tips().size() % 2 == 1;
        const bool now = (up == "B") != next_is_odd;
        if (even_is_b && *even_is_b != now) moved = true;
        if (side_up_first == 0) side_up_first = up[0];
        even_is_b = now;
        return Done{};
    }

    // What the run knows of its sides goes with its remarks; a run of which nobody said anything says
    // nothing.
    Outcome tell_sides() {
        if (!even_is_b) return Done{};
        const auto screws = parse_stop_screws(given["gauge kind"]);
        if (!screws) return screws.fault();
        const auto turned = calib::turned_over_at(run.observations);
        if (turned)
            run.remarks.push_back(calib::sides_turned_text(run.observations[*turned].step));
        else
            run.remarks.push_back(calib::sides_known_text(screws->marks, side_up_first));
        if (moved) run.remarks.push_back(calib::sides_moved_text());
        return Done{};
    }

    Outcome go_on(const JournalEntry& entry, Fields& fields) {
        const int from_step = fields.number<int>("from_step");
        const auto torn_bytes = fields.number<std::uint64_t>("torn_bytes");
        if (auto outcome = fields.outcome(); !outcome) return outcome;
        // A step with only some of its runs is measured anew, all of them under the same conditions.
        const int runs_wanted = from_step >= 1 && from_step <= static_cast<int>(run.plan.plan.steps.size())
                                    ? run.plan.plan.steps[static_cast<std::size_t>(from_step - 1)].repeats
                                    : 1;
        const auto of_step = [&](const calib::StepObservation& kept) { return kept.step == from_step; };
        const auto runs_lost = std::count_if(run.observations.begin(), run.observations.end(), of_step);
        if (runs_lost < runs_wanted) std::erase_if(run.observations, of_step);
        for (const auto& kept : run.observations) {
            if (kept.step >= from_step)
                return bad_entry(entry, "the run goes on with step " + std::to_string(from_step) +
                                            ", but step " + std::to_string(kept.step) + " was kept");
        }
        std::string remark = "The run was interrupted (" +
                             (run.end_reason.empty() ? std::string(never_closed) : run.end_reason) +
                             ") and resumed at " + fields.text("continued_at") + " from step " +
                             std::to_string(from_step) + ", after the gauge was wetted anew; ";
        remark += run.observations.empty() ? "no step was kept" : "the steps before it were kept";
        if (runs_lost > 0)
            remark += "; " + std::to_string(runs_lost) + " of " + std::to_string(runs_wanted) +
                      " runs of step " + std::to_string(from_step) + " were left out and measured again";
        if (torn_bytes > 0)
            remark += "; " + std::to_string(torn_bytes) + " torn bytes at the end of the journal were cut";
        run.remarks.push_back(remark + ".");
        // What spoke against the step that is measured anew is past; that its collects were dropped is not.
        std::erase_if(run.findings, [&](const calib::Finding& finding) {
            return finding.step == from_step && finding.kind() != calib::FindingKind::dropped_collect;
        });
        ++run.times_continued;
        run.ended_at.clear();
        run.complete = false;
        run.end_reason.clear();
        run.step_in_hand = 0;
        keep_losses();
        // Tips are numbered from 0 again: those so far are counted on.
        if (even_is_b && tracker->tips().size() % 2 == 1) even_is_b = !*even_is_b;
        tracker.emplace(run.gauge.gauge, run.bench.metrology);
        opening.reset();
        return Done{};
    }

    void keep_losses() {
        for (const auto& loss : tracker->losses()) losses.push_back(loss);
    }

    // What the run saw too, when it gave up: the same readings say the same.
    void add_seen_meanwhile(FaultCode code) {
        if (code != FaultCode::flow_not_held && code != FaultCode::water_behind) return;
        for (calib::Finding& finding : tracker->what_the_tips_say_so_far()) {
            finding.step = run.step_in_hand;
            run.findings.push_back(std::move(finding));
        }
    }

    Outcome parse_descriptions() {
        auto gauge = parse_gauge(given["gauge"], given["gauge kind"]);
        if (!gauge) return gauge.fault();
        auto bench = parse_bench(given["bench"]);
        if (!bench) return bench.fault();
        auto plan = parse_plan(given["plan"]);
        if (!plan) return plan.fault();
        run.gauge = std::move(*gauge);
        run.bench = std::move(*bench);
        run.plan = std::move(*plan);
        if (!operator_named.empty()) run.bench.operator_name = operator_named;
        tracker.emplace(run.gauge.gauge, run.bench.metrology);
        return Done{};
    }

    Outcome collect(const JournalEntry& entry, Fields& fields) {
        const std::string did = fields.text("did");
        const int step = fields.number<int>("step");
        // Journals from before repeats do not number them.
        const int repeat = entry.field("repeat").empty() ? 1 : fields.number<int>("repeat");
        if (did == "open") {
            opening = fields.number<std::size_t>("tip");
            opened_step = step;
            opened_repeat = repeat;
            return fields.outcome();
        }
        if (did == "drop") {
            opening.reset();
            calib::Finding dropped = calib::finding_of(dropped_for(fields.text("reason")), {});
            dropped.step = step;
            run.findings.push_back(std::move(dropped));
            return fields.outcome();
        }
        if (did != "close" || !opening || opened_step != step || opened_repeat != repeat)
            return bad_entry(entry, "a collect ends that was not open");
        const auto closing = fields.number<std::size_t>("tip");
        if (auto outcome = fields.outcome(); !outcome) return outcome;
        auto observation = tracker->observe(*opening, closing);
        if (!observation) {
            observation.fault().where = entry_where(entry);
            return observation.fault();
        }
        observation->repeat = repeat;
        observation->findings = tracker->what_the_tips_say(*observation, *opening, closing);
        if (even_is_b.value_or(false)) calib::swap_sides(*observation);
        const std::string end = fields.text("end");
        observation->ended = end == "target"       ? calib::CollectEnd::target_reached
                             : end == "time limit" ? calib::CollectEnd::time_limit
                                                   : calib::CollectEnd::vessel_full;
        run.observations.push_back(std::move(*observation));
        run.step_in_hand = 0;
        opening.reset();
        return Done{};
    }
};

Replay::Replay() : state_(std::make_unique<State>()) {}
Replay::~Replay() = default;

bool Replay::begun() const {
    return state_->run.begun;
}

const ReplayedRun& Replay::so_far() const {
    return state_->run;
}

const StepTracker* Replay::tracker() const {
    return state_->tracker ? &*state_->tracker : nullptr;
}

std::optional<std::size_t> Replay::opening() const {
    return state_->opening;
}

Outcome Replay::take(const JournalEntry& entry) {
    State& s = *state_;
    Fields fields(entry);
    s.run.duration_s = entry.time_s;
    if (entry.kind == "open") {
        s.run.program_version = fields.text("program");
        s.run.started_at = fields.text("started_at");
        s.run.seed = fields.text("seed");
        return Done{};
    }
    if (entry.kind == "given") {
        DescriptionText& text = s.given[fields.text("what")];
        text.name = fields.text("file");
        text.text += fields.text("text") + "\n";
        return Done{};
    }
    if (entry.kind == "operator") {
        s.operator_named = fields.text("name");
        return Done{};
    }
    if (entry.kind == "gauge") {
        const std::string state = fields.text("state");
        if (s.run.begun || s.run.as_left || (state != "as_found" && state != "as_left"))
            return bad_entry(entry, "the gauge's state is given twice, too late, or is unknown");
        s.run.as_left = state == "as_left";
        return Done{};
    }
    // A run that was closed before it began has descriptions that may be cut short.
    if (!s.run.begun && (entry.kind == "close" || entry.kind == "remark" || entry.kind == "accepted")) {
        if (entry.kind == "close") s.run.ended_at = fields.text("ended_at");
        if (entry.kind == "remark") s.run.remarks.push_back(fields.text("text"));
        if (entry.kind == "accepted") return s.accepted(entry, fields);
        return Done{};
    }
    s.run.begun = true;
    if (!s.tracker) {
        if (auto outcome = s.parse_descriptions(); !outcome) return outcome;
    }
    if (entry.kind == "weight") {
        const double mass_g = fields.number<double>("mass_g");
        s.tracker->weight(entry.time_s, mass_g);
    } else if (entry.kind == "edge") {
        ContactEdge edge;
        edge.contact = fields.number<int>("contact");
        edge.closed = fields.flag("closed");
        edge.time_s = fields.number<double>("at_s");
        s.tracker->edge(edge);
    } else if (entry.kind == "climate") {
        ClimateReading reading;
        reading.water_temperature_C = fields.number<double>("water_C");
        reading.air_temperature_C = fields.number<double>("air_C");
        reading.air_pressure_hPa = fields.number<double>("pressure_hPa");
        reading.relative_humidity_percent = fields.number<double>("humidity_percent");
        s.tracker->climate(reading);
    } else if (entry.kind == "state") {
        if (entry.field("to") == "settle" || entry.field("to") == "prime") {
            s.tracker->begin_step(fields.number<int>("step"), fields.number<double>("intensity_mm_h"));
            s.run.step_in_hand = fields.number<int>("step");
        }
    } else if (entry.kind == "collect") {
        return s.collect(entry, fields);
    } else if (entry.kind == "side") {
        return s.side(entry);
    } else if (entry.kind == "continue") {
        return s.go_on(entry, fields);
    } else if (entry.kind == "timing") {
        // The worse of what the bench description says and what was measured counts.
        double& edge_time_u_s = s.run.bench.metrology.edge_time_u_s;
        const double measured_s = fields.number<double>("edge_time_u_s");
        if (measured_s > edge_time_u_s) edge_time_u_s = measured_s;
    } else if (entry.kind == "remark") {
        s.run.remarks.push_back(fields.text("text"));
    } else if (entry.kind == "fault") {
        const auto code = fault_code_named(entry.field("code"));
        const Fault fault{code.value_or(FaultCode::inconsistent), fields.text("what"), fields.text("where"),
                          fields.text("remedy")};
        s.run.end_reason = fault.line();
        s.add_seen_meanwhile(fault.code);
    } else if (entry.kind == "close") {
        s.run.ended_at = fields.text("ended_at");
        s.run.complete = fields.flag("complete");
        if (s.run.end_reason.empty()) s.run.end_reason = fields.text("reason");
    }
    return fields.outcome();
}

Result<ReplayedRun> Replay::finish() {
    State& s = *state_;
    if (!s.tracker) {
        return Fault{FaultCode::too_few_points, "nothing was measured: the run was stopped before it began",
                     "journal", "calibrate anew"};
    }
    if (s.run.ended_at.empty() && s.run.end_reason.empty()) {
        s.run.end_reason = never_closed;
    }
    const calib::BenchMetrology& bench = s.run.bench.metrology;
    // What the balance itself may drift is no loss of the vessel.
    calib::Uncertain stated = bench.evaporation_g_h;
    stated.u = std::hypot(stated.u, bench.balance.zero_drift_half_width_g_h / std::sqrt(3.0));
    if (auto told = s.tell_sides(); !told) return told.fault();
    s.keep_losses();
    for (const auto& finding : calib::check_evaporation(s.losses, stated)) s.run.findings.push_back(finding);
    return std::move(s.run);
}

}  // namespace tipwright::bench
