// The tile of a lane, and the texts of it that change.
#include <algorithm>
#include <cmath>

#include "bench/page/views/fault_words.hpp"
#include "bench/page/views/forms.hpp"
#include "bench/page/views/tile.hpp"
#include "bench/page/views/verdict_text.hpp"
#include "calib/base/rounding.hpp"
#include "report/certificate/finding_words.hpp"

namespace tipwright::page {

namespace {

constexpr const char* unknown = "–";

std::string stand_word(const RunFacts& run, const PageWords& words) {
    switch (run.stand) {
        case Stand::begins:
            return words.text("stand.begins");
        case Stand::running:
            return words.text("state." + std::string(bench::name_of(run.state)));
        case Stand::abandoned:
            return words.text("stand.abandoned");
        case Stand::complete:
            return words.text("stand.complete");
        case Stand::broken_off:
            return words.text("stand.broken_off");
        case Stand::unreadable:
            return words.text("stand.unreadable");
    }
    return unknown;
}

std::string stand_name(const RunFacts& run) {
    if (run.hand == Hand::pull_plug || run.hand == Hand::empty_vessel) return "hand";
    switch (run.stand) {
        case Stand::begins:
        case Stand::running:
            return "running";
        case Stand::complete:
            return "done";
        case Stand::abandoned:
        case Stand::broken_off:
        case Stand::unreadable:
            return "stopped";
    }
    return "stopped";
}

// With a sign before it, as it is read from afar.
std::string verdict_text(const RunFacts& run, const PageWords& words) {
    if (run.stand != Stand::complete) return "";
    switch (run.judged) {
        case Judged::not_yet:
            return "";
        case Judged::at_work:
            return words.text("verdict.working");
        case Judged::failed:
            return "– " + words.text("verdict.failed");
        case Judged::done:
            break;
    }
    return verdict_text(run.came_out, words);
}

std::string findings_text(const RunFacts& run, const PageWords& words) {
    std::string out;
    if (run.stand == Stand::complete && run.judged == Judged::done && !run.came_out.reservations.empty()) {
        const CameOut& came = run.came_out;
        out = words.text(came.needs_acceptance ? "verdict.to_accept" : "verdict.reserved") +
              reservations_text(came, words);
    }
    for (const auto& finding : run.findings) {
        if (!out.empty()) out += '\n';
        out += report::certificate::finding_advice(words.certificate(), finding);
    }
    return out;
}

// What stands largest on the tile: of the step in hand; of a run that is judged, what its certificate says.
struct ErrorShown {
    std::string of;
    std::string error = unknown;
    std::string U = unknown;
};

ErrorShown error_shown(const RunFacts& run, const PageWords& words) {
    const bool judged = run.stand == Stand::complete && run.judged == Judged::done;
    ErrorShown out{words.text("tile.error")};
    std::optional<double> error = run.error_percent;
    std::optional<double> U = run.error_U_percent;
    if (judged) {
        const auto& largest = run.came_out.largest;
        error = largest ? std::optional(largest->error_percent) : std::nullopt;
        U = largest ? std::optional(largest->U_percent) : std::nullopt;
        if (largest)
            out.of = words.text("tile.largest", {{"rate", largest->intensity_mm_h > 0
                                                              ? words.intensity(largest->intensity_mm_h, 1)
                                                              : unknown}});
    }
    const bool known_U = U && std::isfinite(*U);
    const int decimals = known_U ? std::clamp(calib::decimals_earned(*U), 0, 3) : 2;
    if (error) out.error = words.number(*error, decimals);
    if (known_U) out.U = words.number(*U, decimals);
    return out;
}

// How near U is to its target, in thousandths.
int fullness(const RunFacts& run) {
    if (run.stand == Stand::complete) return 1000;
    if (!run.error_U_percent || !(*run.error_U_percent > 0)) return 0;
    return static_cast<int>(1000 * std::min(1.0, run.target_U_percent / *run.error_U_percent));
}

Html place(const RunFacts& run, std::string_view name, const std::string& text) {
    Html out;
    return out.raw("<span").attribute("data-k", place_name(run, name)).raw(">").text(text).raw("</span>");
}

}  // namespace

std::string place_name(const RunFacts& run, std::string_view name) {
    return "r" + std::to_string(run.number) + "." + std::string(name);
}

bool goes_on(const RunFacts& run) {
    return run.stand == Stand::complete && !run.serial.empty();
}

bool is_unfinished(const RunFacts& run) {
    return run.stand == Stand::abandoned || run.stand == Stand::broken_off;
}

std::string hand_text(const RunFacts& run, const PageWords& words) {
    switch (run.hand) {
        case Hand::none:
            return "";
        case Hand::empty_vessel:
            return words.text("hand.empty_vessel");
        case Hand::pull_plug:
            return words.text("hand.pull_plug") + (run.fault ? " " + fault_now(words, *run.fault) : "");
        case Hand::look_after:
            if (run.stand == Stand::broken_off && !run.fault) return words.text("hand.broken_off");
            return run.fault ? words.text("hand.look_after_why", {{"why", fault_now(words, *run.fault)}})
                             : words.text("hand.look_after");
    }
    return "";
}

std::vector<ShownText> shown_texts(const RunFacts& run, const PageWords& words) {
    std::vector<ShownText> out;
    const auto put = [&](std::string_view name, std::string text) {
        out.emplace_back(place_name(run, name), std::move(text));
    };
    const bool flows = run.set_intensity_mm_h > 0;
    put("stand", stand_name(run));
    put("state", stand_word(run, words));
    put("step", run.step > 0 ? words.text("tile.step_of", {{"step", std::to_string(run.step)},
                                                           {"steps", std::to_string(run.steps)}})
                             : unknown);
    put("repeat", run.repeats > 1 ? words.text("tile.run_of", {{"run", std::to_string(run.repeat)},
                                                               {"runs", std::to_string(run.repeats)}})
                                  : "");
    put("set", flows ? words.intensity(run.set_intensity_mm_h, 1) : unknown);
    put("measured", run.measured_intensity_mm_h ? words.intensity(*run.measured_intensity_mm_h, 2) : unknown);
    put("tips1", std::to_string(run.contact_tips[0]));
    put("tips2", run.contacts > 1 ? std::to_string(run.contact_tips[1]) : unknown);
    const ErrorShown error = error_shown(run, words);
    put("error_of", error.of);
    put("error", error.error);
    put("U", error.U);
    put("full", std::to_string(fullness(run)));
    put("volume", run.volume_per_tip_mL ? words.number(*run.volume_per_tip_mL, 3) : unknown);
    put("mass", words.number(run.mass_g, 1));
    put("flow", words.number(run.flow_mL_min, 1));
    put("left", run.stand == Stand::running ? words.duration(run.time_left_s) : unknown);
    put("time", words.duration(run.time_s));
    put("verdict", verdict_text(run, words));
    put("hand", hand_text(run, words));
    put("findings", findings_text(run, words));
    put("changes", std::to_string(run.changes));
    return out;
}

Html tile(const Visitor& visitor, const PageWords& words, const RunFacts& run) {
    std::map<std::string, std::string> shown;
    for (auto& [key, text] : shown_texts(run, words)) shown[key] = text;
    const auto value = [&](std::string_view name) { return place(run, name, shown[place_name(run, name)]); };
    Html out;
    out.raw("<article class=\"tile\"")
        .attribute("data-stand", shown[place_name(run, "stand")])
        .attribute("data-k-stand", place_name(run, "stand"))
        .raw(">\n<h2><a")
        .attribute("href", run_path(run.id))
        .raw(">")
        .text(run.id == "." ? words.text("tile.this_folder") : run.id)
        .raw("</a></h2>\n<p class=\"gauge\">")
        .text(run.serial.empty() ? words.text("tile.no_serial") : run.serial)
        .raw(" <span class=\"quiet\">")
        .text(words.title(run.kind_title))
        .raw("</span></p>\n<p class=\"state\"><span class=\"sign\" aria-hidden=\"true\"></span> ")
        .add(value("state"))
        .raw("</p>\n<p class=\"verdict\">")
        .add(value("verdict"))
        .raw("</p>\n<p class=\"hand\" role=\"status\">")
        .add(value("hand"))
        .raw("</p>\n<p class=\"error\"><span class=\"label\">")
        .add(value("error_of"))
        .raw("</span> <span class=\"big\">")
        .add(value("error"))
        .raw("</span><span class=\"pm\"> ± ")
        .add(value("U"))
        .raw(" %</span></p>\n<p class=\"nearness\"><progress max=\"1000\"")
        .attribute("value", shown[place_name(run, "full")])
        .attribute("data-k", place_name(run, "full"))
        .attribute("aria-label", words.text("tile.nearness"))
        .raw("></progress> <span class=\"label\">")
        .text(words.text("tile.target", {{"U", words.number(run.target_U_percent, 2)}}))
        .raw("</span></p>\n<dl>");
    const auto fact = [&](const std::string& label, const Html& text, const std::string& unit) {
        out.raw("<div><dt>").text(label).raw("</dt><dd>").add(text);
        if (!unit.empty()) out.raw(" <small>").text(unit).raw("</small>");
        out.raw("</dd></div>\n");
    };
    Html step = value("step");
    step.raw(" ").add(value("repeat"));
    fact(words.text("tile.step"), step, "");
    fact(words.text("tile.left"), value("left"), "");
    fact(words.text("tile.set"), value("set"), "mm/h");
    fact(words.text("tile.measured"), value("measured"), "mm/h");
    fact(words.text("tile.contact", {{"n", "1"}}), value("tips1"), words.text("tile.tips"));
    if (run.contacts > 1)
        fact(words.text("tile.contact", {{"n", "2"}}), value("tips2"), words.text("tile.tips"));
    out.raw("</dl>\n<p class=\"findings\">").add(value("findings")).raw("</p>\n");
    if (!visitor.token.empty() && (run.stand == Stand::running || run.stand == Stand::begins))
        out.add(stop_form(visitor, words, run));
    if (visitor.desk && (goes_on(run) || is_unfinished(run)))
        out.raw("<p><a class=\"button\"")
            .attribute("href", run_path(run.id) + "#next")
            .raw(">")
            .text(words.text("run.next"))
            .raw("</a></p>\n");
    return out.raw("</article>\n");
}

Html stop_form(const Visitor& visitor, const PageWords& words, const RunFacts& run) {
    Html out;
    return out.raw("<form class=\"stop\" method=\"post\"")
        .attribute("action", run_path(run.id) + "/stop")
        .raw(">")
        .add(token_of(visitor))
        .raw("<button class=\"stop\">")
        .text(words.text("command.stop_lane"))
        .raw("</button></form>\n");
}

}  // namespace tipwright::page
