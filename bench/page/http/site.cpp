#include "bench/page/http/site.hpp"

#include <sodium.h>

#include <chrono>
#include <mutex>
#include <nlohmann/json.hpp>

#include "bench/page/desk/sessions.hpp"
#include "bench/page/http/desk_routes.hpp"
#include "bench/page/http/run_stops.hpp"
#include "bench/page/http/static_files.hpp"
#include "bench/page/views/fault_words.hpp"
#include "bench/page/views/machine.hpp"
#include "bench/page/views/pair_screen.hpp"
#include "bench/page/views/run_charts.hpp"
#include "bench/page/views/run_screens.hpp"
#include "calib/base/joined.hpp"
#include "report/certificate/canvas.hpp"

namespace tipwright::page {

namespace {

using SteadyClock = std::chrono::steady_clock;

constexpr std::size_t kept_pictures = 64;
// The prefix: a browser takes it over TLS alone, from this very host and for all of it.
constexpr std::string_view device_cookie = "__Host-device";

bool same_secret(std::string_view given, std::string_view wanted) {
    return given.size() == wanted.size() && sodium_memcmp(given.data(), wanted.data(), wanted.size()) == 0;
}

std::string changes_text(const std::vector<ShownText>& texts) {
    return event_text("texts",
                      nlohmann::json(texts).dump(-1, ' ', true, nlohmann::json::error_handler_t::replace));
}

}  // namespace

struct Site::State {
    State(SiteOptions wanted, WorkFolder& folder, Hub& event_hub)
        : options(std::move(wanted)), work(folder), hub(event_hub), stops(folder) {}

    SiteOptions options;
    WorkFolder& work;
    Hub& hub;
    RunStops stops;
    std::vector<PageWords> words;
    StaticFiles statics;
    std::unique_ptr<report::certificate::Canvas> measure;
    std::string token = unguessable_word();
    Sessions sessions;
    std::unique_ptr<DeskRoutes> desk;                                // null: none
    std::map<std::string, std::map<std::string, std::string>> told;  // language, place, text
    std::mutex unlogged_mutex;
    std::optional<Fault> unlogged;  // why the last stop is not in the audit log
    struct Pictures {
        int number = 0;
        int changes = 0;
        std::vector<std::pair<std::string, std::string>> charts;
    };
    std::map<std::string, Pictures> pictures;  // language and run

    const PageWords& words_of(std::string_view language) const {
        for (const PageWords& one : words)
            if (one.language() == language) return one;
        return words.front();
    }

    Visitor visitor_of(const Request& request) {
        Visitor out;
        out.path = request.path;
        for (char before = '?'; const auto& [name, value] : request.query) {
            out.path += before + url_text(name) + "=" + url_text(value);
            before = '&';
        }
        out.token = token;
        out.trial_passphrase = options.trial_passphrase;
        out.desk = desk != nullptr;
        {
            const std::lock_guard lock(unlogged_mutex);
            out.unlogged = unlogged;
        }
        if (const auto actor = actor_of(request)) out.person = actor->person;
        return out;
    }

    std::optional<report::Actor> actor_of(const Request& request) {
        return sessions.find(field_of(request.cookies, "session"), SteadyClock::now());
    }

    // What is in the request goes with it: it may hold a passphrase.
    Response at_desk(Request request) {
        Response out;
        auto actor = actor_of(request);
        auto visitor = visitor_of(request);
        out.later = [this, request = std::move(request), actor = std::move(actor),
                     visitor = std::move(visitor)]() mutable {
            const PageWords& own = words_of(language_of(request));
            const auto framed = [&](std::string_view screen, const std::string& title, const Html& main,
                                    int status) {
                Response made;
                made.status = status;
                made.body = frame(visitor, own, screen, title, main).str();
                return made;
            };
            return desk->answer(std::move(request), visitor, actor, own, framed);
        };
        return out;
    }

    Response page(const Request& request, std::string_view screen, const std::string& title, const Html& main,
                  int status = 200) {
        Response out;
        out.status = status;
        const PageWords& own = words_of(language_of(request));
        out.body = frame(visitor_of(request), own, screen, title, main).str();
        return out;
    }

    Response told_notice(const Request& request, int status, std::string_view key, const std::string& next) {
        const PageWords& own = words_of(language_of(request));
        const std::string& sentence = own.text("notice." + std::string(key));
        return page(request, "notice", sentence, notice(own, sentence, next), status);
    }

    Response not_found(const Request& request) {
        return told_notice(request, 404, "not_found",
                           words_of(language_of(request)).text("notice.not_found_next"));
    }

    // Whatever may stand on a screen now.
    std::vector<RunFacts> shown() {
        std::vector<RunFacts> out = work.runs();
        for (RunFacts& run : work.looked_at()) out.push_back(std::move(run));
        return out;
    }

    RunPictures pictures_of(const LiveRun& run, const RunFacts& facts, const PageWords& own) {
        const std::string key = own.language() + "/" + facts.id;
        const std::string prefix = "r" + std::to_string(facts.number);
        auto found = pictures.find(key);
        if (found == pictures.end() || found->second.changes != facts.changes ||
            found->second.number != facts.number) {
            if (pictures.size() >= kept_pictures) pictures.clear();
            found = pictures
                        .insert_or_assign(key, Pictures{facts.number, facts.changes,
                                                        step_charts(run, own, *measure, prefix)})
                        .first;
        }
        return {found->second.charts,
                facts.stand == Stand::running ? minutes_chart(run, own, *measure, prefix) : ""};
    }

    // The pump stops first; then it is noted who stopped it, and nothing waits for that.
    void note_stop(Response& out, const Request& request, const std::vector<std::string>& ids) {
        if (!desk) return;
        std::string runs = joined(ids, ", ");
        Request asked;
        asked.path = request.path;
        asked.device = request.device;
        asked.device_name = request.device_name;
        out.after = [this, asked = std::move(asked), runs = std::move(runs), actor = actor_of(request)] {
            const auto noted = desk->note(asked, actor, {{"runs", runs}});
            const std::lock_guard lock(unlogged_mutex);
            unlogged = noted ? std::nullopt : std::optional(noted.fault());
        };
    }

    Response command(Request request) {
        if (!origin_known(options.names, request)) return told_notice(request, 403, "refused", "");
        if (!same_secret(field_of(request.form, "token"), token))
            return told_notice(request, 403, "refused",
                               words_of(language_of(request)).text("notice.old_page"));
        if (desk && DeskRoutes::knows(request)) return at_desk(std::move(request));
        if (request.path == "/stop") {
            std::vector<std::string> ids;
            for (const RunFacts& run : work.runs())
                if (work.held(run.id)) ids.push_back(run.id);
            return stopped_answer(request, ids);
        }
        if (request.path.starts_with("/run/") && request.path.ends_with("/stop")) {
            const std::string id = request.path.substr(5, request.path.size() - 10);
            if (!work.find(id)) return not_found(request);
            return stopped_answer(request, {id});
        }
        return not_found(request);
    }

    Response stopped_answer(const Request& request, const std::vector<std::string>& ids) {
        const Outcome done = stops.stop(ids);
        // Whoever tapped reads on the next page what their tap did.
        const std::string lane = request.path == "/stop" || ids.empty() ? "" : url_text(ids.front());
        Response out = done ? redirect_to("/?stopped=" + lane)
                            : told_notice(request, 409, "refused",
                                          fault_text(words_of(language_of(request)), done.fault()));
        note_stop(out, request, ids);
        return out;
    }

    // Which run somebody tapped a stop of just now; empty: everything.
    static std::optional<std::string> stopped_of(const Request& request) {
        const auto found = request.query.find("stopped");
        return found == request.query.end() ? std::nullopt : std::optional(found->second);
    }

    Response run_screen(const Request& request, std::string id) {
        const bool part = id.ends_with("/pictures");
        if (part) id.resize(id.size() - std::string_view("/pictures").size());
        LiveRun* run = work.find(id);
        if (!run) return not_found(request);
        const RunFacts& facts = run->facts(work.held(id));
        const PageWords& own = words_of(language_of(request));
        const RunPictures drawn = pictures_of(*run, facts, own);
        if (part) {
            Response out;
            out.body = run_pictures(own, drawn).str();
            return out;
        }
        return page(request, "run", facts.serial.empty() ? id : facts.serial,
                    one_run(visitor_of(request), own, facts, drawn));
    }

    Response language(const Request& request) {
        const std::string to = field_of(request.query, "to");
        // Back to a path of this site and nowhere else.
        Response out = redirect_to(path_within(field_of(request.query, "back")));
        for (const std::string_view one : page_languages)
            if (to == one)
                out.headers.emplace_back("Set-Cookie",
                                         "language=" + std::string(one) +
                                             "; Path=/; Max-Age=31536000; HttpOnly; SameSite=Strict" +
                                             (options.names.encrypted ? "; Secure" : ""));
        return out;
    }

    Response look(Request request) {
        const PageWords& own = words_of(language_of(request));
        if (request.path == "/") {
            Visitor visitor = visitor_of(request);
            visitor.path = "/";
            return page(request, "going_on", own.text("going_on.title"),
                        going_on(visitor, own, work.runs(), work.earlier(), stopped_of(request)));
        }
        if (request.path.starts_with("/run/")) return run_screen(request, request.path.substr(5));
        if (desk && DeskRoutes::knows(request)) return at_desk(std::move(request));
        if (request.path == "/events") {
            Response out;
            out.events = own.language();
            return out;
        }
        if (request.path == "/language") return language(request);
        if (request.path == "/metrics") {
            Response out;
            out.type = "application/openmetrics-text; version=1.0.0; charset=utf-8";
            out.body = metrics_text(work.runs());
            return out;
        }
        if (request.path.starts_with("/api/1/")) return machine(request);
        // A browser asks for the icon of a PDF by that name.
        const bool icon = request.path == "/favicon.ico";
        if (icon || request.path.starts_with("/static/")) {
            const StaticFile* found =
                statics.find(icon ? "icon.svg" : std::string_view(request.path).substr(8));
            if (!found) return not_found(request);
            Response out;
            out.type = found->type;
            out.body = found->bytes;
            out.headers.emplace_back("Cache-Control", "no-cache");
            return out;
        }
        return not_found(request);
    }

    // What a device gets that is not paired: the form, its looks, and nothing else.
    Response unpaired(Request request) {
        const bool looks = request.path == "/static/page.css" || request.path == "/static/icon.svg" ||
                           request.path == "/favicon.ico";
        if (request.method != "POST" && looks) return look(std::move(request));
        const PageWords& own = words_of(language_of(request));
        const auto form = [&](int status, const std::string& code, const std::string& wrong) {
            Response out;
            out.status = status;
            out.body = pair_screen(own, code, wrong).str();
            return out;
        };
        const Fields& fields = request.method == "POST" ? request.form : request.query;
        const std::string code = field_of(fields, "code");
        if (request.method != "POST" || request.path != "/pair" || !origin_known(options.names, request))
            return form(request.path == "/pair" && request.method != "POST" ? 200 : 403, code, "");
        const auto tried = options.pairing->pair(code, field_of(fields, "name"), request.device,
                                                 options.utc_now(), SteadyClock::now());
        if (!tried) return form(409, "", fault_text(own, tried.fault()));
        if (tried->answer == Pairing::Answer::wait) return form(429, "", own.text("pair.too_many"));
        if (tried->answer == Pairing::Answer::wrong) return form(403, "", own.text("pair.wrong"));
        Response out = redirect_to("/");
        out.headers.emplace_back("Set-Cookie",
                                 std::string(device_cookie) + "=" + tried->word +
                                     "; Path=/; Max-Age=31536000; HttpOnly; Secure; SameSite=Strict");
        return out;
    }

    Response machine(const Request& request) {
        Response out;
        out.type = "application/json";
        if (request.path == "/api/1/runs") {
            out.body = runs_json(work.runs(), work.earlier());
            return out;
        }
        if (request.path == "/api/1/openapi.json") {
            out.body = statics.openapi().bytes;
            return out;
        }
        if (request.path.starts_with("/api/1/runs/")) {
            const std::string id = request.path.substr(12);
            if (LiveRun* run = work.find(id)) {
                out.body = run_json(run->facts(work.held(id)));
                return out;
            }
        }
        out.status = 404;
        out.body = "{\"fault\":\"there is no such thing\"}\n";
        return out;
    }
};

Site::Site(std::unique_ptr<State> state) : state_(std::move(state)) {}
Site::~Site() = default;

Result<std::unique_ptr<Site>> Site::open(SiteOptions options, WorkFolder& work, Hub& hub, Desk* desk) {
    if (sodium_init() < 0)
        return Fault{FaultCode::not_permitted, "the machine gives no random numbers", "page", ""};
    auto state = std::make_unique<State>(std::move(options), work, hub);
    auto words = load_page_words(state->options.templates);
    if (!words) return words.fault();
    state->words = std::move(*words);
    for (PageWords& one : state->words) one.show_by(state->options.local_moment, state->options.other_unit);
    auto statics = StaticFiles::load(state->options.templates);
    if (!statics) return statics.fault();
    state->statics = std::move(*statics);
    auto measure = report::certificate::Canvas::open({}, 595, 842);
    if (!measure) return measure.fault();
    state->measure = std::move(*measure);
    if (desk) {
        // The desk's thread draws with one of its own.
        auto own = report::certificate::Canvas::open({}, 595, 842);
        if (!own) return own.fault();
        state->desk = std::make_unique<DeskRoutes>(*desk, state->sessions, std::move(*own),
                                                   state->options.names.encrypted);
    }
    return std::unique_ptr<Site>(new Site(std::move(state)));
}

Response Site::answer(Request request) {
    if (!host_known(state_->options.names, request)) {
        Response out;
        out.status = 421;
        out.type = "text/plain; charset=utf-8";
        out.body = "This page is not served under that name.\n";
        return out;
    }
    if (const auto& pairing = state_->options.pairing) {
        const auto name = pairing->device_of(field_of(request.cookies, device_cookie));
        if (!name) return state_->unpaired(std::move(request));
        request.device_name = *name;
        if (request.path == "/pair") return redirect_to("/");
    }
    if (request.method == "GET" || request.method == "HEAD") return state_->look(std::move(request));
    if (request.method == "POST") return state_->command(std::move(request));
    Response out;
    out.status = 405;
    out.type = "text/plain; charset=utf-8";
    out.body = "Only GET, HEAD and POST.\n";
    out.headers.emplace_back("Allow", "GET, HEAD, POST");
    return out;
}

std::string Site::everything(const std::string& language) {
    std::vector<ShownText> texts;
    const PageWords& own = state_->words_of(language);
    for (const RunFacts& run : state_->shown())
        for (auto& text : shown_texts(run, own)) texts.push_back(std::move(text));
    return changes_text(texts);
}

void Site::tell_changes(bool runs_too) {
    if (state_->hub.listeners() == 0) {
        state_->told.clear();
        return;
    }
    const std::vector<RunFacts> runs = state_->shown();
    for (const PageWords& own : state_->words) {
        if (state_->hub.listeners(own.language()) == 0) {
            state_->told.erase(own.language());
            continue;
        }
        std::map<std::string, std::string>& told = state_->told[own.language()];
        std::vector<ShownText> fresh;
        for (const RunFacts& run : runs) {
            for (auto& [place, text] : shown_texts(run, own)) {
                std::string& before = told[place];
                if (before == text) continue;
                before = text;
                fresh.emplace_back(place, text);
            }
        }
        if (!fresh.empty()) state_->hub.send(own.language(), changes_text(fresh));
        if (runs_too) state_->hub.send(own.language(), event_text("runs", "changed"));
    }
}

}  // namespace tipwright::page
