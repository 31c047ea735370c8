#include "bench/program/page/register_desk_class.hpp"

#include <chrono>
#include <thread>

#include "bench/journal/file_name.hpp"
#include "bench/journal/holder.hpp"
#include "bench/program/page/gauge_seen.hpp"
#include "bench/program/page/run_ahead.hpp"
#include "bench/program/register/entities.hpp"
#include "bench/program/results/read_record.hpp"
#include "bench/program/results/screw_turns.hpp"
#include "bench/program/run/work_folder.hpp"
#include "bench/run/recovery.hpp"

namespace tipwright::program {

namespace {

namespace fs = std::filesystem;

// A run that cannot begin says so within this time; one that can has made its journal.
constexpr std::chrono::seconds begins_within{6};
constexpr std::chrono::milliseconds look_every{20};

}  // namespace

template <class Begun>
Outcome RegisterDesk::begin(const std::vector<std::string>& words, Begun has_begun) {
    children_.remove_if([](Child& one) { return !one.runs(); });
    auto child = Child::begin(words);
    if (!child) return child.fault();
    children_.push_back(std::move(*child));
    Child& begun = children_.back();
    const auto until = std::chrono::steady_clock::now() + begins_within;
    while (begun.runs() && !has_begun() && std::chrono::steady_clock::now() < until)
        std::this_thread::sleep_for(look_every);
    return begun.runs() || has_begun() ? Outcome(Done{}) : begun.outcome();
}

page::RunAhead RegisterDesk::look_ahead(const page::RunWish& wish) {
    page::RunAhead out;
    out.wish = wish;
    if (auto seen = look(out); !seen) out.fault = seen.fault();
    return out;
}

Result<std::string> RegisterDesk::start(const report::Actor& actor, const page::RunWish& wish) {
    if (auto may = may_measure(actor.person); !may) return may.fault();
    page::RunAhead ahead;
    ahead.wish = wish;
    if (auto seen = look(ahead); !seen) return seen.fault();
    const auto completed = completed_of(options_, ahead);
    if (!completed) return completed.fault();
    std::vector<std::string> words{"--templates", options_.common.templates.string(), "calibrate"};
    const auto word = [&](const std::string& option, const std::string& value) {
        words.push_back(option + "=" + value);
    };
    word("--gauge", completed->gauge);
    word("--bench", ahead.wish.bench);
    word("--plan", ahead.wish.plan);
    word("--out", completed->out.string());
    if (ahead.wish.as_left) words.emplace_back("--as-left");
    // It could ask nobody for a passphrase; the draft that a person makes here enters it.
    word("--enter", "false");
    if (!ahead.wish.reason.empty()) word("--reason", ahead.wish.reason);
    // Where the kind says how the bucket is laid it was told before the start.
    if (ahead.sides && ahead.sides->by_kind == 0)
        word("--side-up", ahead.wish.side_up.empty() ? "unknown" : ahead.wish.side_up);
    if (ahead.is_virtual) {
        const auto now = desk_time();
        if (!now) return now.fault();
        word("--started-at", virtual_start(options_.work, ahead.wish.serial, *now));
        // Another draw of the same bench each time, as real runs are.
        word("--seed",
             std::to_string(1 + std::hash<std::string>{}(completed->out.string() + *now) % 1000000));
        if (options_.speed) word("--speed", std::to_string(*options_.speed));
    }
    word("--operator", actor.person);
    std::error_code ignored;
    const auto begun =
        begin(words, [&] { return fs::exists(completed->out / bench::journal_name, ignored); });
    if (!begun) return begun.fault();
    return fs::relative(completed->out, options_.work, ignored).string();
}

Outcome RegisterDesk::recover(const report::Actor& actor, const page::RecoveryWanted& wanted) {
    if (auto may = may_measure(actor.person); !may) return may;
    const auto journal = within_work(wanted.run, bench::journal_name);
    if (!journal) return journal.fault();
    if (bench::is_held(*journal))
        return Fault{FaultCode::not_permitted, "a program is measuring this run now", wanted.run,
                     "wait until it has ended, or stop it"};
    std::vector<std::string> words{"--templates",   options_.common.templates.string(),
                                   "recover",       journal->parent_path().string(),
                                   "--work",        options_.work.string(),
                                   "--enter=false", wanted.resume ? "--resume" : "--close"};
    if (wanted.resume && options_.speed) {
        const auto open = bench::open_run(*journal);
        if (!open) return open.fault();
        if (open->run.bench.truth) words.push_back("--speed=" + std::to_string(*options_.speed));
    }
    // Gone on with: what it measures is added to its journal. Closed: its program ends.
    std::error_code ignored;
    const auto size = fs::file_size(*journal, ignored);
    return begin(words, [&] { return wanted.resume && fs::file_size(*journal, ignored) > size; });
}

Result<page::AdjustmentSeen> RegisterDesk::adjust(const page::AdjustmentWanted& wanted) {
    const auto file = within_work(wanted.run, "record.json");
    if (!file) return file.fault();
    const auto record = read_sound_record(*file);
    if (!record) return record.fault();
    AdjustOptions options;
    options.mL_per_turn = wanted.mL_per_turn;
    options.mL_per_turn_u = wanted.mL_per_turn_u;
    const auto screws = stop_screws_of(options_.common, *record);
    if (!screws) return screws.fault();
    const auto sensitivity = screw_sensitivity(options, *record, *screws);
    if (!sensitivity) return sensitivity.fault();
    const calib::AdjustmentGoal goal = adjustment_goal(record->plan);
    auto advice = advise(*record, goal, *sensitivity, options.setting_u_mL);
    if (!advice) return advice.fault();
    page::AdjustmentSeen out;
    out.serial = record->identity.serial;
    out.advice = std::move(*advice);
    out.coverage = goal.coverage;
    out.sides_known = sides_known(*record);
    out.marks = screws->marks;
    if (*sensitivity) out.mL_per_turn = (*sensitivity)->mL_per_turn;
    // What a clockwise turn brings is what the page asks for; a kind may mean turns the other way.
    out.clockwise_is_more = wanted.mL_per_turn ? std::optional(true) : screws->clockwise_is_more;
    return out;
}

Outcome RegisterDesk::turned(const report::Actor& actor, const page::TurnsMade& made) {
    return with_register([&](report::Register& reg) -> Outcome {
        const auto gauge = gauge_meant(reg, made.serial, "");
        if (!gauge) return gauge.fault();
        const report::Actor now = now_of(actor);
        auto order = reg.open_order_of(gauge->id);
        if (order && *order == 0)
            order = reg.open_order(now, {0, gauge->id, program::today(now.now), "", "", ""});
        if (!order) return order.fault();
        report::Adjustment adjustment;
        adjustment.order = *order;
        adjustment.made_on = program::today(now.now);
        adjustment.turns_a = made.turns_a;
        adjustment.turns_b = made.turns_b;
        const auto added = reg.add_adjustment(now, adjustment);
        return added ? Outcome(Done{}) : added.fault();
    });
}

Outcome RegisterDesk::may_measure(const std::string& name) {
    const auto may = permissions(name);
    if (!may) return may.fault();
    if (may->may_measure) return Done{};
    return Fault{FaultCode::not_permitted, in_quotes(name) + " may not measure", "register",
                 "ask somebody who may issue to change that: tipwright register person change"};
}

Result<fs::path> RegisterDesk::within_work(const std::string& run, const char* name) const {
    std::error_code error;
    const fs::path file = fs::canonical(options_.work / run / name, error);
    const fs::path within = fs::relative(file, options_.work, error);
    if (error || within.empty() || *within.begin() == "..")
        return Fault{FaultCode::file_missing, "there is no such run, or it has no " + std::string(name), run,
                     ""};
    return file;
}

Outcome RegisterDesk::look(page::RunAhead& ahead) {
    return program::look_ahead(options_, ahead, [&](const std::string& serial) -> Result<page::GaugeAtDoor> {
        auto reg = opened();
        if (!reg) return reg.fault();
        return gauge_at_door(options_.common, **reg, serial);
    });
}

}  // namespace tipwright::program
