// What the desk over the register keeps, and what it does, a part in each of register_desk.cpp (persons),
// desk_runs.cpp, desk_certificates.cpp and desk_years.cpp. For these files alone: others use
// register_desk.hpp.
#pragma once

#include <list>

#include "bench/program/page/begin_run.hpp"
#include "bench/program/page/register_desk.hpp"
#include "bench/program/register/session.hpp"
#include "bench/program/results/check_runs.hpp"
#include "report/pack/pack.hpp"

namespace tipwright::program {

class RegisterDesk : public page::Desk {
public:
    explicit RegisterDesk(DeskOptions options) : options_(std::move(options)) {
        if (options_.location.empty()) options_.location = data_folder("register").string();
    }

    // Persons.
    Outcome note(const report::PageCommand& command) override;
    Result<std::vector<page::PersonAtDoor>> persons() override;
    Result<report::Actor> log_in(const std::string& name, const seal::Passphrase& passphrase) override;
    Result<page::Permissions> permissions(const std::string& name) override;

    // Runs.
    page::RunAhead look_ahead(const page::RunWish& wish) override;
    Result<std::string> start(const report::Actor& actor, const page::RunWish& wish) override;
    Outcome recover(const report::Actor& actor, const page::RecoveryWanted& wanted) override;
    Result<page::AdjustmentSeen> adjust(const page::AdjustmentWanted& wanted) override;
    Outcome turned(const report::Actor& actor, const page::TurnsMade& made) override;

    // Certificates.
    Result<report::Table> open_work() override;
    Result<report::Table> certificates(const page::CertificateWanted& wanted) override;
    Result<report::Certificate> certificate(report::Id id) override;
    Result<report::Certificate> certificate(const std::string& number) override;
    Result<page::CertificateCameOut> came_out(const report::Certificate& certificate) override;
    Result<report::Id> draft(const report::Actor& actor, const std::string& serial,
                             const std::string& reason) override;
    Result<std::optional<page::CheckGaugeSeen>> check_gauge() override;
    Result<page::FileGiven> look_of_draft(report::Id id) override;
    Outcome check(const report::Actor& actor, report::Id id) override;
    Outcome send_back(const report::Actor& actor, report::Id id, const std::string& why) override;
    Outcome discard(const report::Actor& actor, report::Id id, const std::string& why) override;
    Result<page::IssuedHere> issue(const report::Actor& actor, report::Id id,
                                   const seal::Passphrase& seal_passphrase,
                                   const std::string& reason) override;
    Result<report::Id> replace(const report::Actor& actor, const std::string& number,
                               const std::string& reason) override;
    Result<page::FileGiven> pack(const std::string& number) override;
    Result<std::vector<std::string>> files(const std::string& number) override;
    Result<page::FileGiven> file(const std::string& number, const std::string& name) override;

    // The years.
    Result<page::LifeOfGauge> life(const std::string& serial) override;
    Result<page::FieldCheckSeen> field_check(const report::Actor& actor,
                                             const page::FieldCheckWanted& wanted) override;
    Result<report::Table> gauges(const page::CertificateWanted& wanted) override;
    Result<report::Table> due() override;
    Result<report::Table> instruments() override;
    Result<report::Table> recall(const page::RecallWanted& wanted) override;
    Result<report::Table> in_tolerance() override;
    std::string today() override;

private:
    Outcome may_measure(const std::string& name);
    // A file of a run below the work folder, and nowhere else.
    Result<std::filesystem::path> within_work(const std::string& run, const char* name) const;
    // A program of its own. Done: it has begun what it is for, or came to its end well, or takes its time.
    template <class Begun>
    Outcome begin(const std::vector<std::string>& words, Begun has_begun);
    // Kept open between requests; opened anew after a fault of the database.
    Result<report::Register*> opened();
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
    static report::ListFilter filter_of(const page::CertificateWanted& wanted);
    Result<std::vector<report::pack::File>> files_of(const std::string& number);
    Outcome look(page::RunAhead& ahead);

    DeskOptions options_;
    std::optional<report::Register> register_;
    std::list<Child> children_;  // begun here, some still at work
    // All runs of the check gauge are computed once more to tell how it stands: anew when one came, or a day.
    std::string check_gauge_known_;
    ControlState check_gauge_;
};

}  // namespace tipwright::program
