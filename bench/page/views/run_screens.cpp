#include "bench/page/views/run_screens.hpp"

#include <algorithm>

#include "bench/page/views/fault_words.hpp"
#include "bench/page/views/forms.hpp"
#include "bench/page/views/tile.hpp"

namespace tipwright::page {

namespace {

bool is_going_on(const RunFacts& run) {
    return run.stand == Stand::running || run.stand == Stand::begins;
}

// What a hand is needed for, all lanes together, above all else.
Html needed_now(const PageWords& words, const std::vector<RunFacts>& runs) {
    Html out;
    out.raw("<section class=\"now\" aria-live=\"assertive\"")
        .attribute("aria-label", words.text("now.title"));
    out.raw("><h2>").text(words.text("now.title")).raw("</h2>\n<ul data-now>");
    bool any = false;
    for (const RunFacts& run : runs) {
        const std::string text = hand_text(run, words);
        if (text.empty()) continue;
        any = true;
        out.raw(run.hand == Hand::pull_plug || run.hand == Hand::empty_vessel
                    ? Html::Literal("<li class=\"urgent\"><strong>")
                    : Html::Literal("<li><strong>"))
            .text(run.id)
            .raw("</strong> ")
            .text(text)
            .raw("</li>\n");
    }
    out.raw("</ul>\n<p class=\"nothing\"");
    if (any) out.raw(" hidden");
    const bool flows = std::any_of(runs.begin(), runs.end(), is_going_on);
    out.raw(">").text(words.text(flows ? "now.nothing" : "now.idle")).raw("</p>");
    const auto complete = std::count_if(runs.begin(), runs.end(), goes_on);
    if (complete > 0)
        out.raw("\n<p>").text(words.text("now.complete", {{"n", std::to_string(complete)}})).raw("</p>");
    return out.raw("</section>\n");
}

// What a tap on a stop did, as far as the journals tell it. lane: empty for everything.
Html stopped_now(const PageWords& words, const std::vector<RunFacts>& runs, const std::string& lane) {
    bool doubted = false;
    bool some = false;
    for (const RunFacts& run : runs) {
        if (!lane.empty() && run.id != lane) continue;
        // Of a run whose program is gone nobody stopped the pump.
        doubted = doubted || run.hand == Hand::pull_plug || run.stand == Stand::abandoned;
        some = some || is_going_on(run);
    }
    Html out;
    out.raw("<p class=\"told\" role=\"status\">");
    if (doubted || some)
        out.text(words.text(doubted ? "stopped.doubted" : "stopped.going"));
    else
        out.text(lane.empty() ? words.text("stopped.all") : words.text("stopped.lane", {{"lane", lane}}));
    return out.raw("</p>\n");
}

}  // namespace

std::string run_path(const std::string& id) {
    return "/run/" + url_text(id, true);
}

Html going_on(const Visitor& visitor, const PageWords& words, const std::vector<RunFacts>& runs,
              const std::vector<EarlierRun>& earlier, const std::optional<std::string>& just_stopped) {
    Html out;
    out.raw("<h1>").text(words.text("going_on.title")).raw("</h1>\n");
    if (just_stopped) out.add(stopped_now(words, runs, *just_stopped));
    out.add(needed_now(words, runs));
    if (runs.empty()) out.raw("<p class=\"empty\">").text(words.text("going_on.nothing")).raw("</p>\n");
    out.raw("<div class=\"tiles\">\n");
    // Those that go on first; within both by name, so that a lane keeps its place.
    std::vector<const RunFacts*> order;
    order.reserve(runs.size());
    for (const RunFacts& run : runs) order.push_back(&run);
    std::stable_partition(order.begin(), order.end(), [](const RunFacts* run) { return is_going_on(*run); });
    for (const RunFacts* run : order) out.add(tile(visitor, words, *run));
    out.raw("</div>\n");
    if (earlier.empty()) return out;
    constexpr std::size_t most = 30;
    out.raw("<section class=\"earlier\"><h2>").text(words.text("going_on.earlier")).raw("</h2>\n<ul>\n");
    for (std::size_t i = 0; i < std::min(most, earlier.size()); ++i) {
        out.raw("<li><a").attribute("href", run_path(earlier[i].id)).raw(">");
        out.text(earlier[i].id == "." ? words.text("tile.this_folder") : earlier[i].id);
        out.raw("</a> <span class=\"quiet\">");
        out.text(words.moment(earlier[i].changed_at)).raw("</span></li>\n");
    }
    return out.raw("</ul></section>\n");
}

Html run_pictures(const PageWords& words, const RunPictures& pictures) {
    Html out;
    if (pictures.charts.empty() && pictures.minutes.empty())
        out.raw("<p class=\"empty\">").text(words.text("run.no_pictures")).raw("</p>\n");
    for (const auto& [title, svg] : pictures.charts) {
        out.raw("<figure><figcaption>").text(title).raw("</figcaption>\n");
        out.add(Html::made_elsewhere(svg)).raw("</figure>\n");
    }
    if (!pictures.minutes.empty()) {
        out.raw("<figure><figcaption>").text(words.text("run.minutes")).raw("</figcaption>\n");
        out.add(Html::made_elsewhere(pictures.minutes)).raw("</figure>\n");
    }
    return out;
}

namespace {

// A run that did not come to its end: go on with it, or close it.
Html what_becomes(const Visitor& visitor, const PageWords& words, const RunFacts& run) {
    Html body;
    if (visitor.person.empty())
        return card(words.text("run.next"), body.add(log_in_first(visitor, words)), "next");
    const auto command = [&](Html::Literal what, std::string_view key) {
        body.add(command_form(visitor, "/recover"))
            .add(hidden("run", run.id))
            .raw("<input type=\"hidden\" name=\"what\" value=\"")
            .raw(what)
            .raw("\">")
            .add(button(words.text(key)))
            .raw("</form>\n");
    };
    body.raw("<p>").text(words.text("recover.resume_words")).raw("</p>\n<p class=\"caution\">");
    body.text(words.text("caution.start")).raw("</p>\n");
    command("resume", "recover.resume");
    // What is closed already is not closed again.
    if (run.stand == Stand::abandoned) {
        body.raw("<p>").text(words.text("recover.close_words")).raw("</p>\n");
        command("close", "recover.close");
    }
    return card(words.text("run.next"), body, "next");
}

// After a run: adjust, or make the certificate.
Html what_next(const Visitor& visitor, const PageWords& words, const RunFacts& run) {
    Html out;
    out.raw("<section class=\"card\" id=\"next\"><h2>")
        .text(words.text("run.next"))
        .raw("</h2>\n<p><a class=\"button\"");
    out.attribute("href", "/adjust?run=" + url_text(run.id))
        .raw(">")
        .text(words.text("adjust.title"))
        .raw("</a></p>\n");
    if (!visitor.person.empty())
        out.raw("<form class=\"fields\" method=\"post\" action=\"/certificates/draft\">")
            .add(token_of(visitor))
            .raw("<input type=\"hidden\" name=\"serial\"")
            .attribute("value", run.serial)
            .raw(">\n<label class=\"field\"><span>")
            .text(words.text("certificate.accept"))
            .raw("</span><input name=\"reason\" maxlength=\"300\" autocomplete=\"off\"></label>\n<button>")
            .text(words.text("certificates.draft"))
            .raw("</button></form>\n");
    return out.raw("</section>\n");
}

}  // namespace

Html one_run(const Visitor& visitor, const PageWords& words, const RunFacts& run,
             const RunPictures& pictures) {
    Html out;
    out.raw("<h1>").text(run.serial.empty() ? run.id : run.serial).raw("</h1>\n<div class=\"run\">\n");
    out.add(tile(visitor, words, run))
        .raw("<div class=\"pictures\" data-pictures")
        .attribute("data-from", run_path(run.id) + "/pictures")
        .attribute("data-k-changes", place_name(run, "changes"))
        .raw(">\n");
    out.add(run_pictures(words, pictures)).raw("</div>\n");
    if (visitor.desk && goes_on(run)) out.add(what_next(visitor, words, run));
    if (visitor.desk && is_unfinished(run)) out.add(what_becomes(visitor, words, run));
    out.raw("<section class=\"about\"><h2>");
    out.text(words.text("run.about")).raw("</h2>\n<dl>");
    const auto fact = [&](std::string_view key, const std::string& text) {
        if (text.empty()) return;
        out.raw("<div><dt>").text(words.text(key)).raw("</dt><dd>").text(text).raw("</dd></div>\n");
    };
    fact("run.plan", words.title(run.plan_name));
    fact("run.bench", run.bench_title);
    fact("run.operator", run.operator_name);
    fact("run.station", run.station);
    fact("run.customer", run.customer);
    fact("run.started", words.moment(run.started_at));
    if (!run.ended_at.empty()) fact("run.ended", words.moment(run.ended_at));
    fact("run.planned", words.duration(run.planned_s));
    out.raw("<div><dt>").text(words.text("run.taken")).raw("</dt><dd><span");
    out.attribute("data-k", place_name(run, "time")).raw(">").text(words.duration(run.time_s));
    out.raw("</span></dd></div>\n</dl></section>\n<section class=\"remarks\"><h2>");
    out.text(words.text("run.remarks")).raw("</h2>\n");
    if (run.fault)
        out.raw("<p class=\"fault\">")
            .text(fault_now(words, *run.fault))
            .raw("</p>\n")
            .add(own_words_of(words, *run.fault));
    if (run.remarks.empty()) {
        out.raw("<p>").text(words.text("run.no_remarks")).raw("</p>\n");
    } else {
        if (words.language() != page_languages[0])
            out.raw("<p class=\"quiet\">").text(words.text("run.remarks_own")).raw("</p>\n");
        if (run.remarks_left_out > 0)
            out.raw("<p class=\"quiet\">")
                .text(words.text("run.remarks_left_out", {{"count", std::to_string(run.remarks_left_out)}}))
                .raw("</p>\n");
        out.raw("<ul lang=\"en\">\n");
        // With its time: what had to be done then is not mistaken for what is to be done now.
        for (std::size_t k = 0; k < run.remarks.size(); ++k) {
            out.raw("<li>");
            if (k < run.remarked_at_s.size())
                out.raw("<span class=\"quiet\">")
                    .text(words.text("run.at", {{"time", words.duration(run.remarked_at_s[k])}}))
                    .raw("</span> ");
            out.text(run.remarks[k]).raw("</li>\n");
        }
        out.raw("</ul>\n");
    }
    return out.raw("</section>\n</div>\n");
}

}  // namespace tipwright::page
