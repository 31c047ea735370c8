#include "bench/program/page/register_desk.hpp"

#include <algorithm>
#include <chrono>
#include <list>
#include <thread>

#include "bench/descriptions/descriptions.hpp"
#include "bench/journal/holder.hpp"
#include "bench/page/views/machine.hpp"
#include "bench/program/page/begin_run.hpp"
#include "bench/program/page/gauge_seen.hpp"
#include "bench/program/page/run_ahead.hpp"
#include "bench/program/register/certificates.hpp"
#include "bench/program/register/entities.hpp"
#include "bench/program/register/session.hpp"
#include "bench/program/results/check_runs.hpp"
#include "bench/program/results/field_check.hpp"
#include "bench/program/results/read_record.hpp"
#include "bench/program/results/screw_turns.hpp"
#include "bench/program/run/lane_run.hpp"
#include "bench/program/run/work_folder.hpp"
#include "bench/run/recovery.hpp"
#include "report/pack/pack.hpp"
#include "report/pack/zip.hpp"
#include "report/register/life_words.hpp"

namespace tipwright::program {

namespace {

namespace fs = std::filesystem;
using report::Id;

// A run that cannot begin says so within this time; one that can has made its journal.
constexpr std::chrono::seconds begins_within{6};
constexpr std::chrono::milliseconds look_every{20};
constexpr std::size_t most_rows = 500;
constexpr std::size_t most_check_runs = 100000;

std::string type_of(const std::string& name) {
    const std::string ending = fs::path(name).extension().string();
    if (ending == ".pdf") return "application/pdf";
    if (ending == ".json") return "application/json";
    if (ending == ".xml") return "application/xml";
    if (ending == ".csv") return "text/csv; charset=utf-8";
    return "text/plain; charset=utf-8";
}

void add_instruments_of(const bench::BenchDescription& bench, report::Table& table) {
    for (const auto* list : {&bench.instruments, &bench.hand_instruments})
        for (const auto& one : *list) {
            // In the bench that the register has it under.
            const auto known = std::find_if(table.rows.begin(), table.rows.end(), [&](const auto& row) {
                return report::text_of(row[0]) == one.serial && report::text_of(row[1]) == one.role;
            });
            const std::string under = known == table.rows.end() ? bench.title : report::text_of((*known)[3]);
            table.rows.push_back({one.serial, one.role, one.description, under, one.certificate,
                                  one.calibrated_on, one.due_on});
        }
}

report::ListFilter filter_of(const page::CertificateWanted& wanted) {
    report::ListFilter out;
    out.serial = wanted.serial;
    out.customer = wanted.customer;
    out.limit = wanted.most;
    return out;
}

class RegisterDesk : public page::Desk {
public:
    explicit RegisterDesk(DeskOptions options) : options_(std::move(options)) {
        if (options_.location.empty()) options_.location = data_folder("register").string();
    }

    Outcome note(const report::PageCommand& command) override {
        const auto reg = opened();
        if (!reg) return reg.fault().code == FaultCode::file_missing ? Outcome(Done{}) : reg.fault();
        const auto now = desk_time();
        if (!now) return now.fault();
        // While a trial's years are entered the log's time is theirs.
        const bool years_ahead = options_.filling && options_.filling->load();
        return report::log_command(options_.location, years_ahead ? "" : *now, command);
    }

    Result<std::vector<page::PersonAtDoor>> persons() override {
        std::vector<page::PersonAtDoor> out;
        auto reg = opened();
        if (!reg) {
            if (reg.fault().code == FaultCode::file_missing) return out;
            return reg.fault();
        }
        const auto people = (*reg)->people();
        if (!people) return people.fault();
        for (const report::Person& person : *people)
            if (person.active)
                out.push_back({person.name, person.passphrase != report::PassphraseState::none});
        return out;
    }

    Result<report::Actor> log_in(const std::string& name, const seal::Passphrase& passphrase) override {
        auto reg = opened();
        if (!reg) return reg.fault();
        const auto now = desk_time();
        if (!now) return now.fault();
        const auto person = (*reg)->person(name);
        if (!person) return person.fault();
        if (!person->active)
            return Fault{FaultCode::not_permitted, in_quotes(person->name) + " is no longer active", "person",
                         ""};
        if (person->passphrase == report::PassphraseState::none) return report::Actor{person->name, *now};
        return (*reg)->log_in(person->name, *now, passphrase);
    }

    Result<page::Permissions> permissions(const std::string& name) override {
        return with_register([&](report::Register& reg) -> Result<page::Permissions> {
            const auto person = reg.person(name);
            if (!person) return person.fault();
            return page::Permissions{person->active && person->may_measure,
                                     person->active && person->may_check,
                                     person->active && person->may_issue};
        });
    }

    page::RunAhead look_ahead(const page::RunWish& wish) override {
        page::RunAhead out;
        out.wish = wish;
        if (auto seen = look(out); !seen) out.fault = seen.fault();
        return out;
    }

    Result<std::string> start(const report::Actor& actor, const page::RunWish& wish) override {
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
        const auto begun = begin(words, [&] { return fs::exists(completed->out / journal_name, ignored); });
        if (!begun) return begun.fault();
        return fs::relative(completed->out, options_.work, ignored).string();
    }

    Outcome recover(const report::Actor& actor, const page::RecoveryWanted& wanted) override {
        if (auto may = may_measure(actor.person); !may) return may;
        const auto journal = within_work(wanted.run, journal_name);
        if (!journal) return journal.fault();
        if (bench::is_held(*journal))
            return Fault{FaultCode::not_permitted, "a program measures this run now", wanted.run,
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

    Result<page::AdjustmentSeen> adjust(const page::AdjustmentWanted& wanted) override {
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

    Outcome turned(const report::Actor& actor, const page::TurnsMade& made) override {
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

    Result<report::Table> open_work() override {
        return with_register([](report::Register& reg) { return reg.open_work(); });
    }

    Result<report::Table> certificates(const page::CertificateWanted& wanted) override {
        return with_register([&](report::Register& reg) { return reg.list_certificates(filter_of(wanted)); });
    }

    Result<report::Certificate> certificate(Id id) override {
        return with_register([&](report::Register& reg) { return reg.certificate(id); });
    }
    Result<report::Certificate> certificate(const std::string& number) override {
        return with_register([&](report::Register& reg) { return reg.certificate(number); });
    }

    Result<Id> draft(const report::Actor& actor, const std::string& serial,
                     const std::string& reason) override {
        if (auto good = check_serial(serial); !good) return good.fault();
        // What is measured now belongs on it.
        for (const KeptRun& run : kept_runs(options_.work, serial))
            if (!run.measured && bench::is_held(run.folder / journal_name))
                return Fault{FaultCode::not_permitted, "a run of this gauge is going on", serial,
                             "wait until it has ended, or stop it"};
        return with_register([&](report::Register& reg) {
            return draft_of_newest_runs(options_.common, reg, now_of(actor), serial, options_.work,
                                        options_.bench_code, reason);
        });
    }

    Result<std::optional<page::CheckGaugeSeen>> check_gauge() override {
        if (options_.check_gauge.empty()) return std::optional<page::CheckGaugeSeen>{};
        return with_register([&](report::Register& reg) -> Result<std::optional<page::CheckGaugeSeen>> {
            const auto now = desk_time();
            if (!now) return now.fault();
            report::ListFilter filter;
            filter.serial = options_.check_gauge;
            filter.limit = most_check_runs;
            const auto runs = reg.list_certificates(filter);
            if (!runs) return runs.fault();
            std::string known = program::today(*now) + page::register_json("runs", *runs);
            // What was done about an alarm is a finding of its life.
            if (const auto life = reg.life(options_.check_gauge))
                known += page::register_json("life", report::life_table(*life));
            if (known != check_gauge_known_) {
                const auto state = control_state(reg, options_.check_gauge, *now);
                if (!state) return state.fault();
                check_gauge_ = *state;
                check_gauge_known_ = std::move(known);
            }
            return std::optional<page::CheckGaugeSeen>(page::CheckGaugeSeen{
                options_.check_gauge, name_of(check_gauge_.standing), check_gauge_.on, check_gauge_.why});
        });
    }

    Result<page::FileGiven> look_of_draft(Id id) override {
        return with_register([&](report::Register& reg) -> Result<page::FileGiven> {
            auto pdf = drawing_of_draft(options_.common, reg, id, options_.layout);
            if (!pdf) return pdf.fault();
            return page::FileGiven{"draft-" + std::to_string(id) + ".pdf", "application/pdf",
                                   std::move(*pdf)};
        });
    }

    Outcome check(const report::Actor& actor, Id id) override {
        return with_register([&](report::Register& reg) { return reg.mark_checked(now_of(actor), id); });
    }
    Outcome send_back(const report::Actor& actor, Id id, const std::string& why) override {
        return with_register([&](report::Register& reg) { return reg.send_back(now_of(actor), id, why); });
    }
    Outcome discard(const report::Actor& actor, Id id, const std::string& why) override {
        return with_register([&](report::Register& reg) { return reg.discard(now_of(actor), id, why); });
    }

    Result<page::IssuedHere> issue(const report::Actor& actor, Id id, const seal::Passphrase& seal_passphrase,
                                   const std::string& reason) override {
        return with_register([&](report::Register& reg) -> Result<page::IssuedHere> {
            page::IssuedHere out;
            Sealing sealing{
                options_.keys,        options_.bench_code,
                options_.layout,      reason,
                options_.check_gauge, [&](const std::string& text) { out.warnings.push_back(text); }};
            const auto issued = issue_one(options_.common, reg, now_of(actor), id, seal_passphrase, sealing);
            if (!issued) return issued.fault();
            out.number = issued->number;
            return out;
        });
    }

    Result<Id> replace(const report::Actor& actor, const std::string& number,
                       const std::string& reason) override {
        return with_register([&](report::Register& reg) {
            return draft_replacement(options_.common, reg, now_of(actor), number, reason,
                                     options_.bench_code);
        });
    }

    Result<page::FileGiven> pack(const std::string& number) override {
        return with_register([&](report::Register& reg) -> Result<page::FileGiven> {
            const auto files = report::pack::make(reg, {number});
            if (!files) return files.fault();
            return page::FileGiven{number + "-pack.zip", "application/zip", report::pack::zip(*files)};
        });
    }

    Result<std::vector<std::string>> files(const std::string& number) override {
        const auto given = files_of(number);
        if (!given) return given.fault();
        std::vector<std::string> out;
        for (const auto& file : *given) out.push_back(fs::path(file.path).filename().string());
        return out;
    }

    Result<page::FileGiven> file(const std::string& number, const std::string& name) override {
        auto given = files_of(number);
        if (!given) return given.fault();
        for (auto& file : *given)
            if (fs::path(file.path).filename() == name)
                return page::FileGiven{number + "-" + name, type_of(name), std::move(file.bytes)};
        return Fault{FaultCode::unknown_field, "there is no such file", name, ""};
    }

    Result<page::LifeOfGauge> life(const std::string& serial) override {
        return with_register(
            [&](report::Register& reg) { return life_of_gauge(options_.common, reg, serial); });
    }

    Result<page::FieldCheckSeen> field_check(const report::Actor& actor,
                                             const page::FieldCheckWanted& wanted) override {
        return with_register([&](report::Register& reg) -> Result<page::FieldCheckSeen> {
            FieldCheckOptions options;
            options.serial = wanted.serial;
            options.tips = wanted.tips;
            if (wanted.collected) {
                options.collected_g = wanted.amount;
                options.collected_u_g = wanted.amount_u;
                options.lost_g = wanted.astray;
                options.lost_u_g = wanted.astray_u;
            } else {
                options.poured_mL = wanted.amount;
                options.poured_u_mL = wanted.amount_u;
                options.retained_mL = wanted.astray;
                options.retained_u_mL = wanted.astray_u;
            }
            options.water_temperature_C = wanted.water_temperature_C;
            options.duration_s = wanted.duration_s;
            options.limit_percent = wanted.limit_percent;
            options.began_on_tip = wanted.began_on_tip;
            options.ended_on_tip = wanted.ended_on_tip;
            options.made_on = wanted.made_on;
            options.reason = wanted.accept;
            options.note = wanted.note;
            auto done = check_in_field(options_.common, reg, now_of(actor), options);
            if (!done) return done.fault();
            page::FieldCheckSeen out{wanted, std::move(done->check)};
            out.wanted.serial = done->facts.serial;
            return out;
        });
    }

    Result<report::Table> gauges(const page::CertificateWanted& wanted) override {
        return with_register([&](report::Register& reg) { return reg.list_gauges(filter_of(wanted)); });
    }
    Result<report::Table> due() override {
        return with_register([](report::Register& reg) {
            report::ListFilter filter;
            filter.limit = most_rows;
            return reg.due(filter);
        });
    }
    Result<report::Table> instruments() override {
        return with_register([&](report::Register& reg) -> Result<report::Table> {
            auto table = reg.list_instruments();
            // The register knows a calibration once a certificate used it; the bench's description before.
            if (table && !options_.bench.empty())
                if (const auto bench = bench::load_bench(options_.bench, options_.common.templates))
                    add_instruments_of(*bench, *table);
            return table;
        });
    }
    Result<report::Table> recall(const page::RecallWanted& wanted) override {
        return with_register([&](report::Register& reg) -> Result<report::Table> {
            const auto instrument = instrument_meant(reg, wanted.instrument, "");
            if (!instrument) return instrument.fault();
            // Without dates all.
            return reg.recall(instrument->id, wanted.from.empty() ? "1900-01-01" : wanted.from,
                              wanted.to.empty() ? "9999-12-31" : wanted.to, most_rows);
        });
    }
    Result<report::Table> in_tolerance() override {
        return with_register([](report::Register& reg) { return reg.in_tolerance(); });
    }
    std::string today() override {
        const auto now = desk_time();
        return now ? program::today(*now) : "";
    }

private:
    Outcome may_measure(const std::string& name) {
        const auto may = permissions(name);
        if (!may) return may.fault();
        if (may->may_measure) return Done{};
        return Fault{FaultCode::not_permitted, in_quotes(name) + " may not measure", "register",
                     "somebody who may issue changes that: tipwright register person change"};
    }

    // A file of a run below the work folder, and nowhere else.
    Result<fs::path> within_work(const std::string& run, const char* name) const {
        std::error_code error;
        const fs::path file = fs::canonical(options_.work / run / name, error);
        const fs::path within = fs::relative(file, options_.work, error);
        if (error || within.empty() || *within.begin() == "..")
            return Fault{FaultCode::file_missing, "there is no such run, or it has no " + std::string(name),
                         run, ""};
        return file;
    }

    // A program of its own. Done: it has begun what it is for, or came to its end well, or takes its time.
    template <class Begun>
    Outcome begin(const std::vector<std::string>& words, Begun has_begun) {
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

    // Kept open between requests; opened anew after a fault of the database.
    Result<report::Register*> opened() {
        if (!register_) {
            auto reg = open_register({options_.location, {}});
            if (!reg) return reg.fault();
            register_.emplace(std::move(*reg));
        }
        return &*register_;
    }

    template <class Work>
    auto with_register(Work work) -> decltype(work(std::declval<report::Register&>())) {
        auto reg = opened();
        if (!reg) return reg.fault();
        auto out = work(**reg);
        if (!out &&
            (out.fault().code == FaultCode::database_unreachable || out.fault().code == FaultCode::damaged))
            register_.reset();
        return out;
    }

    // The same person, now.
    static report::Actor now_of(report::Actor actor) {
        if (const auto now = desk_time()) actor.now = *now;
        return actor;
    }

    Result<std::vector<report::pack::File>> files_of(const std::string& number) {
        return with_register(
            [&](report::Register& reg) { return report::pack::certificate_files(reg, number); });
    }

    Outcome look(page::RunAhead& ahead) {
        return program::look_ahead(options_, ahead,
                                   [&](const std::string& serial) -> Result<page::GaugeAtDoor> {
                                       auto reg = opened();
                                       if (!reg) return reg.fault();
                                       return gauge_at_door(options_.common, **reg, serial);
                                   });
    }

    DeskOptions options_;
    std::optional<report::Register> register_;
    std::list<Child> children_;  // begun here, some still at work
    // All runs of the check gauge are computed once more to tell how it stands: anew when one came, or a day.
    std::string check_gauge_known_;
    ControlState check_gauge_;
};

}  // namespace

std::unique_ptr<page::Desk> make_desk(DeskOptions options) {
    return std::make_unique<RegisterDesk>(std::move(options));
}

}  // namespace tipwright::program
