#include "bench/page/views/desk_screens.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "bench/page/views/fault_words.hpp"
#include "bench/page/views/forms.hpp"
#include "bench/page/views/run_screens.hpp"
#include "calib/base/joined.hpp"
#include "report/register/life_words.hpp"

namespace tipwright::page {

namespace {

Html state_choice(const PageWords& words, bool as_left) {
    return choice(words.text("gauge_on.state"), "state", as_left ? "left" : "found",
                  {{"found", words.text("gauge_on.as_found")}, {"left", words.text("gauge_on.as_left")}});
}

Html gauge_card(const PageWords& words, const GaugeAtDoor& gauge, const std::string& curve,
                const std::string& today) {
    const std::string& due_on = gauge.entry.due_on;
    Html body = facts_list(
        words,
        {{"gauge_on.kind", gauge.kind_title.empty() ? gauge.entry.kind : words.title(gauge.kind_title)},
         {"gauge_on.model", gauge.entry.model},
         {"gauge_on.station", gauge.station},
         {"gauge_on.customer", gauge.customer},
         {"gauge_on.last", gauge.entry.last_calibrated_on +
                               (gauge.last_elsewhere ? ", " + words.text("value.elsewhere") : "")},
         {"gauge_on.due",
          is_past(due_on, today) ? "⚠ " + due_on + " " + words.text("years.overdue") : due_on},
         {"gauge_on.note", gauge.entry.note}});
    if (gauge.order)
        body.raw("<h3>")
            .text(words.text("gauge_on.order"))
            .raw("</h3>\n")
            .add(facts_list(words, {{"gauge_on.received", gauge.order->received_on},
                                    {"gauge_on.condition", gauge.order->condition},
                                    {"gauge_on.request", gauge.order->request}}));
    if (!curve.empty())
        body.raw("<figure><figcaption>")
            .text(words.text("gauge_on.last_curve", {{"number", gauge.last_certificate}}))
            .raw("</figcaption>\n")
            .add(Html::made_elsewhere(curve))
            .raw("</figure>\n");
    return card(gauge.entry.serial, body);
}

Html bench_card(const PageWords& words, const RunAhead& ahead) {
    report::Table table{{"role", "due_on", "checked_on", "serial", "description"}, {}, false};
    for (const auto& one : ahead.instruments)
        table.rows.push_back({one.role, one.due_on, one.checked_on, one.serial, one.description});
    Html body = table_of_rows(words, table, {}, {}, ahead.today);
    for (const std::string& text : ahead.against) body.add(alert(text));
    for (const std::string& text : ahead.told) body.raw("<p>").text(text).raw("</p>\n");
    return card(ahead.bench_title, body);
}

// "±5 %" or "−3 to 5 %".
std::string span(const PageWords& words, const calib::LimitRow& row) {
    const auto shown = [&](double percent) {
        return words.number(percent, percent == std::floor(percent) ? 0 : 1);
    };
    if (row.low_percent == -row.high_percent) return "±" + shown(row.high_percent) + " %";
    return words.text("gauge_on.from_to",
                      {{"low", shown(row.low_percent)}, {"high", shown(row.high_percent)}});
}

Html course_card(const PageWords& words, const RunAhead& ahead) {
    Html body;
    if (!ahead.found_plan.empty()) {
        std::string other = words.text("gauge_on.other_plan", {{"found", words.title(ahead.found_plan)}});
        if (!ahead.found_limits.empty())
            other += " " + words.text("gauge_on.other_limits", {{"found", words.title(ahead.found_limits)},
                                                                {"limits", words.title(ahead.limits)}});
        body.add(alert(other));
    }
    body.raw("<ol class=\"course\">\n<li>").text(words.text("gauge_on.first")).raw("</li>\n");
    for (const StepAhead& step : ahead.steps) {
        body.raw("<li>").text(words.text("gauge_on.step", {{"rate", words.intensity(step.intensity_mm_h, 1)},
                                                           {"time", words.duration(step.least_s)}}));
        if (step.limits)
            body.text("; " + words.text("gauge_on.step_limits", {{"limits", span(words, *step.limits)}}));
        if (step.repeats > 1)
            body.text(" " + words.text("gauge_on.times", {{"n", std::to_string(step.repeats)}}));
        body.raw("</li>\n");
    }
    body.raw("<li>").text(words.text("gauge_on.last_step")).raw("</li>\n</ol>\n<p><strong>");
    body.text(words.text("gauge_on.total", {{"time", words.duration(ahead.least_s)}})).raw("</strong></p>\n");
    if (!ahead.limits.empty())
        body.raw("<p>")
            .text(words.text("gauge_on.limits", {{"limits", words.title(ahead.limits)}}))
            .raw("</p>\n");
    return card(words.text("gauge_on.course"), body);
}

// Which screw is to be turned is known afterwards only where somebody looked before the first tip.
Html side_up(const PageWords& words, const SidesAhead& sides, const std::string& wished) {
    Html out;
    if (sides.by_kind != 0)
        return out.raw("<p>")
            .text(words.text("gauge_on.lay", {{"side", side_name(words, sides.marks, sides.by_kind)}}))
            .raw("</p>\n");
    return choice(words.text("gauge_on.side_up"), "side_up", wished,
                  {{"", words.text("gauge_on.side_not_known")},
                   {"A", side_name(words, sides.marks, 'A')},
                   {"B", side_name(words, sides.marks, 'B')}});
}

Html start_card(const Visitor& visitor, const PageWords& words, const RunAhead& ahead) {
    Html body;
    body.raw("<p class=\"caution\">").text(words.text("caution.start")).raw("</p>\n");
    if (visitor.person.empty())
        return card(words.text("gauge_on.start"), body.add(log_in_first(visitor, words)));
    const auto title = [&](const std::vector<Offer>& offers, const std::string& name) {
        const auto found =
            std::find_if(offers.begin(), offers.end(), [&](const Offer& one) { return one.name == name; });
        return found == offers.end() ? name : words.title(found->title);
    };
    body.raw("<p><strong>")
        .text(ahead.wish.serial + " · " + title(ahead.plans, ahead.wish.plan) + " · " +
              words.text(ahead.wish.as_left ? "gauge_on.as_left" : "gauge_on.as_found") + " · " +
              title(ahead.benches, ahead.wish.bench))
        .raw("</strong></p>\n");
    // With script; without it the line above says what will run.
    body.raw("<p class=\"alert\" data-look-again hidden>")
        .text(words.text("gauge_on.look_again", {{"look", words.text("gauge_on.look")}}))
        .raw("</p>\n");
    body.add(command_form(visitor, "/gauge-on/start"));
    body.add(hidden("serial", ahead.wish.serial)).add(hidden("bench", ahead.wish.bench));
    body.add(hidden("plan", ahead.wish.plan)).add(hidden("state", ahead.wish.as_left ? "left" : "found"));
    if (ahead.sides) body.add(side_up(words, *ahead.sides, ahead.wish.side_up));
    if (!ahead.against.empty())
        body.add(field(words.text("gauge_on.reason"), "reason", ahead.wish.reason, "text", true));
    body.add(button(words.text("gauge_on.start"))).raw("</form>\n");
    return card(words.text("gauge_on.start"), body);
}

// What the program itself says of an event, in the language; what people wrote stays as it is.
std::string told(const PageWords& words, const report::LifePart& part) {
    const std::string key = "life." + part.id;
    if (part.id.empty() || !words.find(key)) return part.text;
    std::vector<std::pair<std::string_view, std::string>> fillings(part.names.begin(), part.names.end());
    for (const report::LifeNumber& number : part.numbers)
        fillings.emplace_back(number.name, (number.with_sign && number.value > 0 ? "+" : "") +
                                               words.number(number.value, number.decimals));
    return words.filled(key, fillings);
}

report::Table told_events(const PageWords& words, const report::Life& life) {
    report::Table out{{"date", "event", "certificate", "detail"}, {}, false};
    for (const report::LifeEvent& event : life) {
        std::string detail;
        for (const report::LifePart& part : event.parts)
            add_part(detail, told(words, part), report::before_part(part));
        out.rows.push_back(
            {event.on, event.what,
             event.certificate.empty() ? report::Table::Value() : report::Table::Value(event.certificate),
             detail});
    }
    return out;
}

// Lines of a calendar are folded at 75 bytes, never within a character (RFC 5545 3.1).
std::string calendar_line(const std::string& name, const std::string& value) {
    std::string text = name + ":";
    for (const char c : value) {
        if (c == '\\' || c == ';' || c == ',') text += '\\';
        if (c == '\n')
            text += "\\n";
        else if (static_cast<unsigned char>(c) >= 0x20)
            text += c;
    }
    std::string out;
    std::size_t line = 0;
    for (const char c : text) {
        const bool begins = (static_cast<unsigned char>(c) & 0xC0u) != 0x80;
        if (begins && line >= 71) {
            out += "\r\n ";
            line = 1;
        }
        out += c;
        ++line;
    }
    return out + "\r\n";
}

std::string digits_of(const std::string& text) {
    std::string out;
    for (const char c : text)
        if (c >= '0' && c <= '9') out += c;
    return out;
}

}  // namespace

Html log_in_screen(const Visitor& visitor, const PageWords& words, const std::vector<PersonAtDoor>& persons,
                   const std::string& next, const std::string& wrong) {
    Html out = heading(words, "log_in.title");
    if (persons.empty()) return out.raw("<p>").text(words.text("log_in.nobody")).raw("</p>\n");
    if (!wrong.empty()) out.add(alert(wrong));
    out.add(command_form(visitor, "/log-in")).add(hidden("next", next));
    std::vector<Offer> offers;
    bool passphrases = false;
    for (const PersonAtDoor& person : persons) {
        offers.push_back({person.name, person.name});
        passphrases = passphrases || person.has_passphrase;
    }
    out.add(choice(words.text("log_in.person"), "person", "", offers));
    out.raw("<label class=\"field\"><span>").text(words.text("log_in.passphrase"));
    out.raw(
        "</span><input type=\"password\" name=\"passphrase\" autocomplete=\"current-password\"></label>\n");
    if (!passphrases) out.raw("<p class=\"quiet\">").text(words.text("log_in.none_yet")).raw("</p>\n");
    return out.add(trial_hint(visitor, words)).add(button(words.text("log_in.do"))).raw("</form>\n");
}

Html gauge_on_screen(const Visitor& visitor, const PageWords& words, const RunAhead& ahead,
                     const std::string& curve) {
    Html out = heading(words, "gauge_on.title");
    out.add(check_gauge_alert(words, ahead.check_gauge));
    out.raw("<form class=\"fields\" method=\"get\" action=\"/gauge-on#ahead\">\n");
    out.raw("<label class=\"field\"><span>").text(words.text("gauge_on.serial"));
    out.raw(
        "</span><input type=\"text\" name=\"serial\" maxlength=\"100\" autocomplete=\"off\" "
        "autocapitalize=\"off\" spellcheck=\"false\" list=\"gauges\" data-scan required");
    if (ahead.wish.serial.empty()) out.raw(" autofocus");
    out.attribute("value", ahead.wish.serial).raw("></label>\n<datalist id=\"gauges\">");
    for (const Offer& one : ahead.gauges)
        out.raw("<option").attribute("value", one.name).raw(">").text(one.title).raw("</option>");
    out.raw("</datalist>\n<p class=\"scan\" hidden><button type=\"button\" data-camera>")
        .text(words.text("gauge_on.camera"));
    out.raw("</button></p>\n");
    out.add(state_choice(words, ahead.wish.as_left));
    std::vector<Offer> plans = ahead.plans;
    for (Offer& plan : plans) plan.title = words.title(plan.title);
    out.add(choice(words.text("gauge_on.plan"), "plan", ahead.wish.plan, plans));
    out.add(choice(words.text("gauge_on.bench"), "bench", ahead.wish.bench, ahead.benches));
    out.add(button(words.text("gauge_on.look"))).raw("</form>\n");
    if (ahead.wish.serial.empty()) return out;
    out.raw("<div id=\"ahead\">\n");
    if (ahead.unfinished && !ahead.unfinished->in_the_way)
        out.raw("<p class=\"fault\" role=\"alert\">")
            .text(words.text("gauge_on.unfinished_before"))
            .raw(" ")
            .add(link(run_path(ahead.unfinished->run) + "#next", ahead.unfinished->run))
            .raw("</p>\n");
    else if (ahead.unfinished)
        return out.raw("<p class=\"fault\" role=\"alert\">")
            .text(words.text(ahead.unfinished->is_running ? "gauge_on.is_running" : "gauge_on.unfinished"))
            .raw("</p>\n<p>")
            .add(link(run_path(ahead.unfinished->run) + (ahead.unfinished->is_running ? "" : "#next"),
                      ahead.unfinished->run))
            .raw("</p>\n</div>\n");
    if (ahead.fault) out.add(alert(fault_now(words, *ahead.fault))).add(own_words_of(words, *ahead.fault));
    if (!ahead.gauge) return out.raw("</div>\n");
    out.raw("<div class=\"cards\">\n")
        .add(gauge_card(words, *ahead.gauge, curve, ahead.today))
        .add(bench_card(words, ahead));
    if (!ahead.steps.empty()) out.add(course_card(words, ahead));
    // A bench that needs a reason can be begun with one; any other fault not at all.
    if (!ahead.fault || !ahead.against.empty()) out.add(start_card(visitor, words, ahead));
    return out.raw("</div>\n</div>\n");
}

report::Table newest_calibrations(const report::Table& instruments) {
    report::Table out{instruments.columns, {}, instruments.cut};
    const auto at = [&](std::string_view name) {
        return static_cast<std::size_t>(std::find(out.columns.begin(), out.columns.end(), name) -
                                        out.columns.begin());
    };
    const std::array columns{at("serial"), at("role"), at("description"), at("bench")};
    const std::size_t on = at("calibrated_on");
    for (const auto& row : instruments.rows) {
        const auto same = std::find_if(out.rows.begin(), out.rows.end(), [&](const auto& one) {
            return std::all_of(columns.begin(), columns.end(), [&](std::size_t k) {
                return k < row.size() && report::text_of(one[k]) == report::text_of(row[k]);
            });
        });
        if (same == out.rows.end())
            out.rows.push_back(row);
        else if (on < row.size() && report::text_of((*same)[on]) <= report::text_of(row[on]))
            *same = row;
    }
    return out;
}

Html years_screen(const Visitor&, const PageWords& words, const YearsShown& shown) {
    Html out = heading(words, "years.title");
    out.raw("<form class=\"fields\" method=\"get\" action=\"/years/gauge\">\n")
        .add(field(words.text("gauge_on.serial"), "serial", "", "search", true))
        .add(button(words.text("years.life")))
        .raw("</form>\n");
    Html due = table_of_rows(words, shown.due, {{"serial", "/years/gauge?serial="}},
                             {"model", "interval_months"}, shown.today);
    due.raw("<p>").add(link("/years/due.ics", words.text("years.calendar"))).raw("</p>\n");
    out.raw("<div class=\"cards\">\n").add(card(words.text("years.due"), due));
    out.add(card(words.text("years.instruments"),
                 table_of_rows(words, newest_calibrations(shown.instruments), {}, {"bench"}, shown.today)));
    Html recall;
    recall.raw("<p>")
        .text(words.text("years.recall_words"))
        .raw("</p>\n<form class=\"fields\" method=\"get\" action=\"/years#recall\">\n")
        .add(field(words.text("years.instrument"), "instrument", shown.wanted.instrument, "search", true))
        .add(field(words.text("years.from"), "from", shown.wanted.from, "date"))
        .add(field(words.text("years.to"), "to", shown.wanted.to, "date"))
        .add(button(words.text("years.recall")))
        .raw("</form>\n");
    if (shown.recall)
        recall.add(
            table_of_rows(words, *shown.recall,
                          {{"certificate", "/certificates/issued/"}, {"serial", "/years/gauge?serial="}}));
    out.add(card(words.text("years.recall_title"), recall, "recall"));
    return out.add(card(words.text("years.kinds"), table_of_rows(words, shown.in_tolerance, {})))
        .raw("</div>\n");
}

Html life_screen(const Visitor&, const PageWords& words, const LifeOfGauge& life,
                 const std::vector<std::pair<std::string, std::string>>& charts) {
    Html out;
    out.raw("<h1>").text(life.gauge.entry.serial).raw("</h1>\n<div class=\"cards\">\n");
    out.add(gauge_card(words, life.gauge, "", life.today));
    for (const auto& [title, svg] : charts)
        out.raw("<figure><figcaption>")
            .text(title)
            .raw("</figcaption>\n")
            .add(Html::made_elsewhere(svg))
            .raw("</figure>\n");
    out.raw("</div>\n");
    Html next;
    next.raw("<p>").add(
        link("/gauge-on?serial=" + url_text(life.gauge.entry.serial), words.text("gauge_on.title")));
    next.raw("</p>\n").add(
        table_of_rows(words, told_events(words, life.events), {{"certificate", "/certificates/issued/"}}));
    return out.add(card(words.text("years.events"), next));
}

std::string due_calendar(const report::Table& due, const PageWords& words, const std::string& stamp) {
    std::string out = "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//tipwright//due//EN\r\n";
    for (const auto& row : due.rows) {
        const std::string date = digits_of(report::text_of(row[0]));
        if (date.size() != 8) continue;
        const std::string serial = report::text_of(row[1]);
        out += "BEGIN:VEVENT\r\n";
        out += calendar_line("UID", date + "-" + url_text(serial) + "-" + url_text(report::text_of(row[2])) +
                                        "@tipwright.invalid");
        out += "DTSTAMP:" + digits_of(stamp).substr(0, 8) + "T" + digits_of(stamp).substr(8, 6) + "Z\r\n";
        out += "DTSTART;VALUE=DATE:" + date + "\r\n";
        out += calendar_line("SUMMARY", words.text("years.due_event", {{"serial", serial}}));
        out += calendar_line("DESCRIPTION", report::text_of(row[4]) + " " + report::text_of(row[5]));
        out += "END:VEVENT\r\n";
    }
    return out + "END:VCALENDAR\r\n";
}

}  // namespace tipwright::page
