#include "bench/page/http/desk_asked.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include "bench/page/views/desk_charts.hpp"
#include "bench/page/views/desk_screens.hpp"
#include "bench/page/views/fault_words.hpp"
#include "bench/page/views/field_screen.hpp"
#include "bench/page/views/forms.hpp"
#include "bench/page/views/machine.hpp"
#include "bench/page/views/run_screens.hpp"
#include "calib/base/joined.hpp"

namespace tipwright::page {

namespace {

constexpr std::string_view pack_name = "pack.zip";
constexpr std::size_t most_rows_for_machines = 1000;
constexpr std::size_t most_offered = 200;  // serial numbers to choose from
constexpr std::size_t most_sheets = 200;   // of field checks, told from those sent again
// Fields of a form that go into the audit log; none is a secret.
constexpr const char* noted_fields[] = {"serial", "bench",  "plan", "state", "side_up", "reason", "method",
                                        "tips",   "amount", "run",  "what",  "turns_a", "turns_b"};

constexpr double most_turns = 100;

// A volume in mL that a person typed; none: it is not one, or nil.
std::optional<double> volume_of(const std::string& text) {
    const auto mL = typed_number(text);
    return mL && std::abs(*mL) <= 100 && *mL != 0 ? mL : std::nullopt;
}

RunWish wish_of(const Fields& fields) {
    RunWish out;
    out.serial = field_of(fields, "serial");
    // A scanner may type blanks around it.
    while (!out.serial.empty() && out.serial.back() == ' ') out.serial.pop_back();
    while (!out.serial.empty() && out.serial.front() == ' ') out.serial.erase(0, 1);
    out.bench = field_of(fields, "bench");
    out.plan = field_of(fields, "plan");
    out.reason = field_of(fields, "reason");
    out.as_left = field_of(fields, "state") == "left";
    if (const std::string side = field_of(fields, "side_up"); side == "A" || side == "B") out.side_up = side;
    return out;
}

Response given_file(FileGiven&& file, bool to_keep) {
    Response out;
    out.type = file.type;
    out.body = std::move(file.bytes);
    std::string name;
    for (const char c : file.name)
        name +=
            (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '-' || c == '.'
                ? c
                : '_';
    out.headers.emplace_back("Content-Disposition",
                             std::string(to_keep ? "attachment" : "inline") + "; filename=\"" + name + "\"");
    return out;
}

}  // namespace

std::string path_within(const std::string& wanted) {
    if (!wanted.starts_with('/') || wanted.starts_with("//") || wanted.find('\\') != std::string::npos)
        return "/";
    const std::size_t question = std::min(wanted.find('?'), wanted.size());
    std::string out = url_text(wanted.substr(0, question), true);
    for (const char c : wanted.substr(question))
        out += static_cast<unsigned char>(c) > 0x20 && static_cast<unsigned char>(c) < 0x7f ? c : '+';
    return out;
}

Response redirect_to(std::string path) {
    Response out;
    out.status = 303;
    out.headers.emplace_back("Location", std::move(path));
    return out;
}

bool DeskRoutes::knows(const Request& request) {
    for (const std::string_view begin :
         {"/field-check", "/log-in", "/log-out", "/gauge-on", "/recover", "/adjust", "/certificates",
          "/years", "/api/1/gauges", "/api/1/certificates", "/api/1/due"})
        if (request.path == begin || request.path.starts_with(std::string(begin) + "/")) return true;
    return false;
}

Response DeskRoutes::answer(Request request, const Visitor& visitor,
                            const std::optional<report::Actor>& actor, const PageWords& words,
                            const Framed& framed) {
    Asked asked{std::move(request), visitor, actor, words, framed};
    return asked.request.method == "POST" ? command(asked) : look(asked);
}

Response DeskRoutes::look(Asked& asked) {
    const std::string& path = asked.request.path;
    if (path == "/log-in") return log_in_page(asked, "", 200);
    if (path == "/gauge-on") return gauge_on(asked);
    if (path == "/adjust") return adjust(asked);
    if (path == "/field-check") return field_sheet(asked, asked.request.query, "", 200);
    if (path.starts_with("/api/1/")) return machine(asked);
    if (path == "/certificates") return certificates(asked);
    if (path.starts_with(draft_path)) {
        const auto [number, rest] = parts_after(path, draft_path);
        const auto id = id_of(number);
        if (!id) return asked.not_found();
        if (rest.empty()) return certificate(asked, desk_.certificate(*id));
        if (rest != "draft.pdf") return asked.not_found();
        auto pdf = desk_.look_of_draft(*id);
        return pdf ? given_file(std::move(*pdf), false) : asked.unshown(pdf.fault());
    }
    if (path.starts_with(issued_path)) {
        const auto [number, rest] = parts_after(path, issued_path);
        if (rest.empty()) return certificate(asked, desk_.certificate(number));
        if (rest == pack_name) {
            auto pack = desk_.pack(number);
            return pack ? given_file(std::move(*pack), true) : asked.unshown(pack.fault());
        }
        auto file = desk_.file(number, rest);
        return file ? given_file(std::move(*file), rest != "certificate.pdf") : asked.not_found();
    }
    if (path == "/years" || path == "/years/due.ics") return years(asked);
    if (path == "/years/gauge") return life(asked);
    return asked.not_found();
}

Outcome DeskRoutes::note(const Request& request, const std::optional<report::Actor>& actor,
                         std::vector<std::pair<std::string, std::string>> more) {
    report::PageCommand command;
    command.person = actor ? actor->person : "";
    command.device = device_of(request);
    command.command = request.path;
    command.details = std::move(more);
    for (const char* name : noted_fields)
        if (const std::string value = field_of(request.form, name); !value.empty())
            command.details.emplace_back(name, value);
    return desk_.note(command);
}

Response DeskRoutes::command(Asked& asked) {
    const std::string& path = asked.request.path;
    if (path == "/log-in") return log_in(asked);
    if (path == "/log-out") {
        sessions_.close(field_of(asked.request.cookies, "session"));
        Response out = redirect_to("/");
        out.headers.emplace_back("Set-Cookie", "session=; Path=/; Max-Age=0; HttpOnly; SameSite=Strict" +
                                                   std::string(encrypted_ ? "; Secure" : ""));
        if (auto noted = note(asked.request, asked.actor); !noted) return asked.refused(noted.fault());
        return out;
    }
    if (!asked.actor) return asked.log_in_first();
    // What cannot be logged is not done.
    if (auto noted = note(asked.request, asked.actor); !noted) return asked.refused(noted.fault());
    if (path == "/gauge-on/start") return start(asked);
    if (path == "/recover") return recover(asked);
    if (path == "/adjust/turned") return turned(asked);
    if (path == "/field-check") return field_check(asked);
    if (path == "/certificates/draft") {
        const auto id = desk_.draft(*asked.actor, wish_of(asked.request.form).serial,
                                    field_of(asked.request.form, "reason"));
        return id ? redirect_to(std::string(draft_path) + std::to_string(*id)) : asked.refused(id.fault());
    }
    if (path.starts_with(draft_path)) return draft_command(asked);
    if (path.starts_with(issued_path) && path.ends_with("/replace")) {
        const auto [number, what] = parts_after(path, issued_path);
        if (what != "replace") return asked.not_found();
        const auto id = desk_.replace(*asked.actor, number, field_of(asked.request.form, "reason"));
        return id ? redirect_to(std::string(draft_path) + std::to_string(*id)) : asked.refused(id.fault());
    }
    return asked.not_found();
}

Response DeskRoutes::log_in_page(Asked& asked, const std::string& wrong, int status) {
    const auto persons = desk_.persons();
    if (!persons) return asked.unshown(persons.fault());
    const Fields& fields = asked.request.method == "POST" ? asked.request.form : asked.request.query;
    const std::string next = field_of(fields, "next");
    return asked.framed("log_in", asked.words.text("log_in.title"),
                        log_in_screen(asked.visitor, asked.words, *persons, next, wrong), status);
}

Response DeskRoutes::log_in(Asked& asked) {
    const auto now = std::chrono::steady_clock::now();
    if (!sessions_.may_try(asked.request.device, now))
        return log_in_page(asked, asked.words.text("log_in.too_many"), 429);
    std::string& given = asked.request.form["passphrase"];
    if (given.size() > most_passphrase) return log_in_page(asked, asked.words.text("log_in.wrong"), 403);
    const seal::Passphrase passphrase(std::move(given));
    const auto actor = desk_.log_in(field_of(asked.request.form, "person"), passphrase);
    const std::string named = field_of(asked.request.form, "person");
    if (auto noted =
            actor ? note(asked.request, *actor) : note(asked.request, {}, {{"not_logged_in_as", named}});
        !noted)
        return log_in_page(asked, fault_text(asked.words, noted.fault()), 403);
    if (!actor) {
        sessions_.tried_wrong(asked.request.device, now);
        const bool wrong = actor.fault().code == FaultCode::wrong_passphrase;
        return log_in_page(
            asked, wrong ? asked.words.text("log_in.wrong") : fault_text(asked.words, actor.fault()), 403);
    }
    // A session from before, whoever's it was, ends.
    sessions_.close(field_of(asked.request.cookies, "session"));
    Response out = redirect_to(path_within(field_of(asked.request.form, "next")));
    out.headers.emplace_back("Set-Cookie", "session=" + sessions_.open(*actor, now) +
                                               "; Path=/; HttpOnly; SameSite=Strict" +
                                               (encrypted_ ? "; Secure" : ""));
    return out;
}

std::optional<CheckGaugeSeen> DeskRoutes::check_gauge() {
    auto seen = desk_.check_gauge();
    // Where it cannot be told how it stands, that is told.
    return seen ? std::move(*seen) : CheckGaugeSeen{"", "not_known", "", seen.fault()};
}

Response DeskRoutes::gauge_on(Asked& asked) {
    RunAhead ahead = desk_.look_ahead(wish_of(asked.request.query));
    ahead.check_gauge = check_gauge();
    ahead.today = desk_.today();
    ahead.gauges = known_gauges();
    std::string curve;
    if (ahead.gauge)
        curve = curve_chart(
            {{ahead.gauge->last_certificate, ahead.gauge->last_curve_on, false, ahead.gauge->last_curve}},
            asked.words, *measure_, "last");
    return asked.framed("gauge_on", asked.words.text("gauge_on.title"),
                        gauge_on_screen(asked.visitor, asked.words, ahead, curve), 200);
}

std::vector<Offer> DeskRoutes::known_gauges() {
    CertificateWanted wanted;
    wanted.most = most_offered;
    const auto table = desk_.gauges(wanted);
    // Without them a serial number is typed.
    if (!table) return {};
    const auto text = [&](const std::vector<report::Table::Value>& row, std::string_view name) {
        const auto at = static_cast<std::size_t>(
            std::find(table->columns.begin(), table->columns.end(), name) - table->columns.begin());
        return at < row.size() ? report::text_of(row[at]) : std::string();
    };
    std::vector<Offer> out;
    for (const auto& row : table->rows) {
        const std::string station = text(row, "station");
        out.push_back({text(row, "serial"), text(row, "model") + (station.empty() ? "" : ", " + station)});
    }
    return out;
}

Response DeskRoutes::recover(Asked& asked) {
    const RecoveryWanted wanted{field_of(asked.request.form, "run"),
                                field_of(asked.request.form, "what") == "resume"};
    if (!wanted.resume && field_of(asked.request.form, "what") != "close") return asked.not_found();
    const Outcome done = desk_.recover(*asked.actor, wanted);
    return done ? redirect_to(run_path(wanted.run)) : asked.refused(done.fault());
}

Response DeskRoutes::start(Asked& asked) {
    const auto run = desk_.start(*asked.actor, wish_of(asked.request.form));
    return run ? redirect_to(run_path(*run)) : asked.refused(run.fault());
}

Response DeskRoutes::field_sheet(Asked& asked, const Fields& typed, const std::string& wrong, int status) {
    return asked.framed("field", asked.words.text("field.title"),
                        field_check_screen(asked.visitor, asked.words, typed, unguessable_word(), wrong),
                        status);
}

Response DeskRoutes::field_check(Asked& asked) {
    const Fields& form = asked.request.form;
    const std::string sheet = field_of(form, "sheet");
    const auto shown = [&](const FieldCheckSeen& seen) {
        return asked.framed("field", asked.words.text("field.title"), field_check_result(asked.words, seen),
                            200);
    };
    // Sent again because the answer was lost on its way: it is kept already.
    for (const auto& [name, seen] : sheets_)
        if (!sheet.empty() && name == sheet) return shown(seen);
    std::string wrong;
    const auto wanted = field_check_of(form, wrong);
    if (!wanted)
        return field_sheet(asked, form,
                           asked.words.text("field.no_number", {{"field", asked.words.text(wrong)}}), 400);
    const auto seen = desk_.field_check(*asked.actor, *wanted);
    if (!seen) return field_sheet(asked, form, fault_text(asked.words, seen.fault()), 409);
    sheets_.emplace_back(sheet, *seen);
    if (sheets_.size() > most_sheets) sheets_.pop_front();
    return shown(*seen);
}

Response DeskRoutes::adjust(Asked& asked) {
    AdjustmentWanted wanted;
    wanted.run = field_of(asked.request.query, "run");
    wanted.mL_per_turn = volume_of(field_of(asked.request.query, "per_turn"));
    if (const auto u = volume_of(field_of(asked.request.query, "per_turn_u")); u && *u > 0)
        wanted.mL_per_turn_u = *u;
    const auto seen = desk_.adjust(wanted);
    if (!seen) return asked.unshown(seen.fault());
    const std::string chart = adjustment_chart(seen->advice, seen->coverage, asked.words, *measure_);
    return asked.framed("adjust", asked.words.text("adjust.title"),
                        adjust_screen(asked.visitor, asked.words, wanted, *seen, chart), 200);
}

Response DeskRoutes::turned(Asked& asked) {
    TurnsMade made{wish_of(asked.request.form).serial, {}, {}};
    for (const auto& [name, turns] : {std::pair{"turns_a", &made.turns_a}, {"turns_b", &made.turns_b}}) {
        const std::string typed = field_of(asked.request.form, name);
        if (typed.empty()) continue;
        *turns = typed_number(typed);
        if (!*turns || !(std::abs(**turns) <= most_turns))
            return asked.told(400, asked.words.text("notice.refused"), asked.words.text("adjust.no_turns"));
    }
    if (made.turns_a || made.turns_b)
        if (auto kept = desk_.turned(*asked.actor, made); !kept) return asked.refused(kept.fault());
    return redirect_to("/gauge-on?state=left&serial=" + url_text(made.serial));
}

Response DeskRoutes::years(Asked& asked) {
    YearsShown shown;
    auto due = desk_.due();
    if (!due) return asked.unshown(due.fault());
    shown.due = std::move(*due);
    shown.today = desk_.today();
    if (asked.request.path == "/years/due.ics")
        return given_file({"due.ics", "text/calendar; charset=utf-8",
                           due_calendar(shown.due, asked.words, shown.today + "T000000Z")},
                          true);
    auto instruments = desk_.instruments();
    if (!instruments) return asked.unshown(instruments.fault());
    shown.instruments = std::move(*instruments);
    auto kinds = desk_.in_tolerance();
    if (!kinds) return asked.unshown(kinds.fault());
    shown.in_tolerance = std::move(*kinds);
    const Fields& query = asked.request.query;
    shown.wanted = {field_of(query, "instrument"), field_of(query, "from"), field_of(query, "to")};
    if (!shown.wanted.instrument.empty()) {
        auto recall = desk_.recall(shown.wanted);
        if (!recall) return asked.unshown(recall.fault());
        shown.recall = std::move(*recall);
    }
    return asked.framed("years", asked.words.text("years.title"),
                        years_screen(asked.visitor, asked.words, shown), 200);
}

Response DeskRoutes::machine(Asked& asked) {
    const std::string what = asked.request.path.substr(std::string_view("/api/1/").size());
    CertificateWanted wanted;
    wanted.serial = field_of(asked.request.query, "serial");
    wanted.customer = field_of(asked.request.query, "customer");
    wanted.most = most_rows_for_machines;
    Result<report::Table> found = Fault{FaultCode::unknown_field, "there is no such thing", what, ""};
    if (what == "gauges") found = desk_.gauges(wanted);
    if (what == "certificates") found = desk_.certificates(wanted);
    if (what == "due") found = desk_.due();
    Response out;
    out.type = "application/json";
    if (found) {
        out.body = register_json(what, *found);
        return out;
    }
    out.status = found.fault().code == FaultCode::unknown_field ? 404 : 409;
    out.body = fault_json(found.fault());
    return out;
}

Response DeskRoutes::life(Asked& asked) {
    auto life = desk_.life(wish_of(asked.request.query).serial);
    if (life) life->today = desk_.today();
    if (!life)
        return asked.told(404, asked.words.text("years.unknown"), fault_text(asked.words, life.fault()));
    return asked.framed(
        "years", life->gauge.entry.serial,
        life_screen(asked.visitor, asked.words, *life, life_charts(*life, asked.words, *measure_)), 200);
}

}  // namespace tipwright::page
