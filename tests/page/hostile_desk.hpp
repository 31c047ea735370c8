// A desk that says hostile things to every question and notes what was commanded, and the routes that ask it.
#pragma once

#include <sodium.h>

#include <catch2/catch.hpp>

#include "bench/page/desk/sessions.hpp"
#include "bench/page/http/desk_routes.hpp"
#include "bench/page/views/desk_charts.hpp"
#include "bench/page/views/desk_screens.hpp"
#include "report/certificate/canvas.hpp"
#include "tests/page/page_samples.hpp"

namespace tipwright::page::samples {

inline GaugeAtDoor hostile_gauge() {
    GaugeAtDoor out;
    for (std::string* text : {&out.entry.serial, &out.entry.model, &out.entry.kind, &out.entry.note,
                              &out.entry.last_calibrated_on, &out.entry.due_on, &out.kind_title, &out.station,
                              &out.customer, &out.last_certificate})
        *text = hostile;
    out.order = report::Order{1, 1, hostile, hostile, hostile, ""};
    out.last_curve = curve(0);
    return out;
}

inline report::Table hostile_table(std::vector<std::string> columns) {
    report::Table out{std::move(columns), {}, true};
    out.rows.emplace_back();
    for (std::size_t k = 0; k < out.columns.size(); ++k) out.rows.front().emplace_back(hostile);
    return out;
}

// Says hostile things to every question, and notes what was commanded.
class HostileDesk : public Desk {
public:
    std::vector<std::string> commanded;
    std::string good_passphrase = "right";
    std::vector<report::PageCommand> notes;
    std::optional<Fault> log_lost;
    std::optional<CheckGaugeSeen> control;

    Outcome note(const report::PageCommand& command) override {
        notes.push_back(command);
        return log_lost ? Outcome(*log_lost) : Outcome(Done{});
    }

    Result<std::vector<PersonAtDoor>> persons() override {
        return std::vector<PersonAtDoor>{{"A. Signatory", true}, {hostile, false}};
    }
    Result<report::Actor> log_in(const std::string& name, const seal::Passphrase& passphrase) override {
        if (passphrase.text() == good_passphrase) return report::Actor{name, "2031-05-04T10:11:12Z", true};
        return Fault{FaultCode::wrong_passphrase, hostile, "", ""};
    }
    RunAhead look_ahead(const RunWish& wish) override {
        RunAhead out;
        out.wish = wish;
        out.benches = {{hostile, hostile}};
        out.plans = {{hostile, hostile}};
        out.bench_title = hostile;
        out.instruments = {{hostile, hostile, hostile, hostile, hostile}};
        out.sides = SidesAhead{{hostile, hostile}, 0};
        out.against = {hostile};
        out.told = {hostile};
        out.steps = {{20, calib::LimitRow{0, 50, -3, 5}, 600, 2}};
        out.limits = out.found_plan = out.found_limits = hostile;
        out.gauges = {{hostile, hostile}};
        out.gauge = hostile_gauge();
        out.fault = Fault{FaultCode::not_permitted, hostile, hostile, hostile};
        return out;
    }
    Result<std::string> start(const report::Actor&, const RunWish& wish) override {
        return noted("start " + wish.serial + wish.side_up);
    }
    Result<Permissions> permissions(const std::string&) override { return may; }
    Permissions may{true, true, true};
    Outcome recover(const report::Actor&, const RecoveryWanted& wanted) override {
        return outcome((wanted.resume ? "resume " : "close ") + wanted.run);
    }
    Outcome turned(const report::Actor&, const TurnsMade& made) override {
        return outcome("turned " + made.serial + " " + std::to_string(made.turns_a.value_or(0)) + " " +
                       std::to_string(made.turns_b.value_or(0)));
    }
    Result<AdjustmentSeen> adjust(const AdjustmentWanted&) override {
        AdjustmentSeen out;
        out.serial = hostile;
        out.advice.remarks = {{hostile, {}, hostile}};
        out.marks = {hostile, hostile};
        out.sides_known = true;
        out.advice.compartments = {{hostile, {5, 0.01}, {0.1, 0.01}, 2, calib::Uncertain{0.25, 0.05}, true},
                                   {"B", {5, 0.01}, {-0.1, 0.01}, -2, calib::Uncertain{-0.25, 0.05}, true}};
        out.advice.predicted = {
            {1, 20, {2, 0.1}, {0.1, 0.2}, 0.4, {}, calib::Verdict::no_limit, calib::Verdict::no_limit},
            {2, 100, {-1, 0.1}, {-0.4, 0.2}, 0.4, {}, calib::Verdict::no_limit, calib::Verdict::no_limit}};
        return out;
    }
    Result<report::Table> open_work() override {
        return hostile_table({"draft", "state", "serial", "drafted_by"});
    }
    Result<std::optional<CheckGaugeSeen>> check_gauge() override { return control; }
    Result<report::Table> certificates(const CertificateWanted&) override {
        return hostile_table({"certificate", "draft", "state", "serial", "calibrated_on", "kind_of_document",
                              "refers_to", "issued_by"});
    }
    Result<report::Certificate> certificate(report::Id id) override {
        report::Certificate out;
        out.id = id;
        out.serial = out.reason = out.drafted_by = out.checked_by = hostile;
        out.state = report::CertificateState::checked;
        return out;
    }
    Result<CertificateCameOut> came_out(const report::Certificate&) override { return CertificateCameOut{}; }
    Result<report::Certificate> certificate(const std::string&) override {
        report::Certificate out;
        out.id = 7;
        out.number = out.serial = out.issued_by = hostile;
        out.state = report::CertificateState::issued;
        return out;
    }
    Result<report::Id> draft(const report::Actor&, const std::string& serial, const std::string&) override {
        commanded.push_back("draft " + serial);
        return report::Id{7};
    }
    Result<FileGiven> look_of_draft(report::Id) override {
        return FileGiven{hostile, "application/pdf", "%PDF"};
    }
    Outcome check(const report::Actor& actor, report::Id) override {
        return outcome("check " + actor.person);
    }
    Outcome send_back(const report::Actor&, report::Id, const std::string&) override {
        return outcome("send back");
    }
    Outcome discard(const report::Actor&, report::Id, const std::string&) override {
        return outcome("discard");
    }
    Result<IssuedHere> issue(const report::Actor&, report::Id, const seal::Passphrase& passphrase,
                             const std::string&) override {
        commanded.push_back("issue " + std::string(passphrase.text()));
        return IssuedHere{"done", warnings};
    }
    Result<report::Id> replace(const report::Actor&, const std::string& number, const std::string&) override {
        commanded.push_back("replace " + number);
        return report::Id{8};
    }
    Result<FileGiven> pack(const std::string& number) override {
        return FileGiven{number + ".zip", "application/zip", "PK"};
    }
    Result<FieldCheckSeen> field_check(const report::Actor&, const FieldCheckWanted& wanted) override {
        commanded.push_back("field check " + wanted.serial);
        if (wanted.tips == 13) return Fault{FaultCode::inconsistent, hostile, "", ""};
        FieldCheckSeen out;
        out.wanted = wanted;
        out.check.volume_mL = {200, 0.5};
        out.check.error_percent = {-3, 0.6};
        out.check.error_expanded.U = 1.2;
        out.check.error_expanded.k = 2;
        out.check.remarks = {{calib::FieldNote::moved_since_certificate, 1.7, 0}};
        out.check.intensity_mm_h = 12;
        calib::StepConformity conformity;
        conformity.verdict = calib::Verdict::pass;
        out.check.conformity = conformity;
        return out;
    }
    std::vector<std::string> warnings;
    Result<report::Table> gauges(const CertificateWanted&) override {
        return hostile_table(
            {"serial", "model", "kind", "customer", "station", "last_calibrated_on", "due_on"});
    }
    Result<std::vector<std::string>> files(const std::string&) override {
        return std::vector<std::string>{hostile};
    }
    Result<FileGiven> file(const std::string&, const std::string& name) override {
        return FileGiven{name, "text/plain", hostile};
    }
    Result<LifeOfGauge> life(const std::string&) override {
        LifeOfGauge out;
        out.gauge = hostile_gauge();
        report::LifeEvent event{hostile, hostile, hostile, hostile, hostile, {}};
        event.parts = {{"", hostile},
                       {hostile, hostile},
                       {"made_by", "", {}, {{"person", hostile}}},
                       {"replaced_by", "", {}, {{"certificate", hostile}}}};
        out.events = {event};
        out.curves = {{hostile, "2029-05-04", false, curve(0)},
                      {hostile, "2030-05-04", false, curve(0.5)},
                      {hostile, "2031-05-04", true, curve(0.1)}};
        return out;
    }
    Result<report::Table> due() override {
        report::Table out = hostile_table({"due_on", "serial", "model", "kind", "customer", "station",
                                           "last_calibrated_on", "interval_months"});
        out.rows.front()[0] = std::string("2031-05-04");
        return out;
    }
    Result<report::Table> instruments() override { return hostile_table({"serial", "role"}); }
    Result<report::Table> recall(const RecallWanted&) override {
        return hostile_table({"certificate", "serial"});
    }
    Result<report::Table> in_tolerance() override { return hostile_table({"kind", "years"}); }
    std::string today() override { return "2031-05-04"; }

private:
    Result<std::string> noted(std::string what) {
        commanded.push_back(std::move(what));
        return std::string("done");
    }
    Outcome outcome(std::string what) {
        commanded.push_back(std::move(what));
        return Done{};
    }
};

struct Room {
    HostileDesk desk;
    Sessions sessions;
    std::unique_ptr<DeskRoutes> routes;
    Visitor visitor;

    Room() {
        REQUIRE(sodium_init() >= 0);
        auto canvas = report::certificate::Canvas::open({}, 595, 842);
        REQUIRE(canvas.ok());
        routes = std::make_unique<DeskRoutes>(desk, sessions, std::move(*canvas), false);
        visitor.desk = true;
        visitor.token = "token";
    }

    Response ask(std::string_view method, const std::string& target, const Fields& form = {},
                 const std::optional<report::Actor>& actor = {}, std::size_t language = 0) {
        Request request;
        REQUIRE(take_target(target, request));
        request.method = method;
        request.form = form;
        request.device = "127.0.0.1";
        visitor.path = request.path;
        visitor.person = actor ? actor->person : "";
        const PageWords& words = languages()[language];
        const auto framed = [&](std::string_view screen, const std::string& title, const Html& main,
                                int status) {
            Response out;
            out.status = status;
            out.body = frame(visitor, words, screen, title, main).str();
            return out;
        };
        REQUIRE(DeskRoutes::knows(request));
        return routes->answer(std::move(request), visitor, actor, words, framed);
    }
};

inline std::string header(const Response& response, std::string_view name) {
    for (const auto& [key, value] : response.headers)
        if (key == name) return value;
    return "";
}

inline const report::Actor signatory{"A. Signatory", "2031-05-04T10:11:12Z", true};

}  // namespace tipwright::page::samples
