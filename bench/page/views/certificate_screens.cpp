// Certificates: those that wait and all others; one of them, with what may be done with it.
#include <algorithm>

#include "bench/page/views/desk_screens.hpp"
#include "bench/page/views/forms.hpp"
#include "bench/page/views/verdict_text.hpp"
#include "calib/base/rounding.hpp"

namespace tipwright::page {

namespace {

std::string state_key(report::CertificateState state) {
    switch (state) {
        case report::CertificateState::draft:
            return "draft";
        case report::CertificateState::checked:
            return "checked";
        case report::CertificateState::issued:
            return "issued";
        case report::CertificateState::discarded:
            break;
    }
    return "discarded";
}

// Who does the next step, where the visitor may not; empty: the visitor may.
std::string not_by_visitor(const Visitor& visitor, const PageWords& words, const report::Certificate& draft,
                           const Permissions& may) {
    if (draft.state == report::CertificateState::checked)
        return may.may_issue ? "" : words.text("certificate.not_issuer", {{"person", visitor.person}});
    if (visitor.person == draft.drafted_by)
        return words.text("certificate.own_draft", {{"person", visitor.person}});
    return may.may_check ? "" : words.text("certificate.not_checker", {{"person", visitor.person}});
}

Html draft_commands(const Visitor& visitor, const PageWords& words, const report::Certificate& draft,
                    const Permissions& may, const std::optional<CheckGaugeSeen>& check_gauge) {
    if (visitor.person.empty()) return log_in_first(visitor, words);
    const std::string path = "/certificates/draft/" + std::to_string(draft.id);
    Html out;
    const std::string other = not_by_visitor(visitor, words, draft, may);
    if (!other.empty()) out.raw("<p><strong>").text(other).raw("</strong></p>\n");
    if (other.empty() && draft.state == report::CertificateState::draft)
        out.add(command_form(visitor, path + "/check"))
            .raw("<p>")
            .text(words.text("certificate.check_words", {{"person", visitor.person}}))
            .raw("</p>\n")
            .add(button(words.text("certificate.check")))
            .raw("</form>\n");
    const bool checked = draft.state == report::CertificateState::checked;
    // Nobody types the seal's passphrase in vain.
    if (other.empty() && checked && (!check_gauge || check_gauge->in_control()))
        out.add(command_form(visitor, path + "/issue"))
            .add(field(words.text("certificate.seal_passphrase"), "seal", "", "password", true))
            .add(trial_hint(visitor, words))
            .add(field(words.text("certificate.accept"), "reason", "", "text"))
            .add(button(words.text("certificate.issue")))
            .raw("</form>\n");
    if (checked)
        out.add(command_form(visitor, path + "/send-back"))
            .add(field(words.text("certificate.why"), "reason", "", "text", true))
            .add(button(words.text("certificate.send_back")))
            .raw("</form>\n");
    return out.add(command_form(visitor, path + "/discard"))
        .add(field(words.text("certificate.why"), "reason", "", "text", true))
        .add(button(words.text("certificate.discard")))
        .raw("</form>\n");
}

// Of one of its runs: verdict, largest error, and what page 1 reserves.
Html run_came_out(const PageWords& words, const char* state, const CameOut& out, bool issued) {
    Facts facts{{state, verdict_text(out, words)}};
    if (out.largest) {
        const int decimals = std::clamp(calib::decimals_earned(out.largest->U_percent), 0, 3);
        facts.emplace_back("certificate.largest",
                           words.number(out.largest->error_percent, decimals) + " % ± " +
                               words.number(out.largest->U_percent, decimals) + " %, " +
                               words.intensity(out.largest->intensity_mm_h, 1) + " mm/h");
    }
    Html shown = facts_list(words, facts);
    if (out.reservations.empty()) return shown;
    const char* before = issued                 ? "verdict.stated"
                         : out.needs_acceptance ? "verdict.to_accept"
                                                : "verdict.reserved";
    return shown.raw("<p class=\"findings\">")
        .text(words.text(before) + reservations_text(out, words))
        .raw("</p>\n");
}

Html replace_command(const Visitor& visitor, const PageWords& words, const std::string& path) {
    Html out;
    out.raw("<p>").text(words.text("certificate.replace_words")).raw("</p>\n");
    if (visitor.person.empty()) return out.add(log_in_first(visitor, words));
    return out.add(command_form(visitor, path))
        .add(field(words.text("certificate.why"), "reason", "", "text", true))
        .add(button(words.text("certificate.replace")))
        .raw("</form>\n");
}

}  // namespace

Html certificates_screen(const Visitor& visitor, const PageWords& words, const CertificatesShown& shown) {
    Html out = heading(words, "certificates.title");
    out.add(check_gauge_alert(words, shown.check_gauge));
    out.raw("<div class=\"cards\">\n");
    out.add(card(words.text("certificates.open"),
                 table_of_rows(words, shown.open_work, {{"draft", "/certificates/draft/"}},
                               {"model", "kind_of_document", "drafted_at"})));
    Html fresh;
    if (visitor.person.empty())
        fresh.add(log_in_first(visitor, words));
    else
        fresh.add(command_form(visitor, "/certificates/draft"))
            .add(field(words.text("gauge_on.serial"), "serial", "", "text", true))
            .add(field(words.text("certificate.accept"), "reason", "", "text"))
            .add(button(words.text("certificates.draft")))
            .raw("</form>\n");
    out.add(card(words.text("certificates.draft_title"), fresh)).raw("</div>\n");
    Html search;
    search.raw("<form class=\"fields\" method=\"get\" action=\"/certificates#found\">\n")
        .add(field(words.text("gauge_on.serial"), "serial", shown.wanted.serial, "search"))
        .add(field(words.text("gauge_on.customer"), "customer", shown.wanted.customer, "search"))
        .add(button(words.text("certificates.search")))
        .raw("</form>\n")
        .add(table_of_rows(words, shown.found,
                           {{"certificate", "/certificates/issued/"},
                            {"draft", "/certificates/draft/"},
                            {"serial", "/years/gauge?serial="}},
                           {"kind_of_document"}));
    return out.add(card(words.text("certificates.all"), search, "found"));
}

Html certificate_screen(const Visitor& visitor, const PageWords& words,
                        const report::Certificate& certificate, const std::vector<std::string>& files,
                        const Permissions& may, const std::optional<CheckGaugeSeen>& check_gauge,
                        const Result<CertificateCameOut>& came_out) {
    Html out;
    const bool issued = certificate.state == report::CertificateState::issued;
    const std::string name = issued
                                 ? certificate.number
                                 : words.text("certificate.draft", {{"n", std::to_string(certificate.id)}});
    out.raw("<h1>").text(name).raw("</h1>\n");
    if (!issued) out.add(check_gauge_alert(words, check_gauge));
    out.raw("<div class=\"cards\">\n");
    Facts facts{{"gauge_on.serial", certificate.serial},
                {"certificate.state",
                 word_of_register(
                     words, certificate.superseded_by.empty() ? state_key(certificate.state) : "replaced")},
                {"certificate.calibrated", certificate.calibrated_on},
                {"certificate.drafted", certificate.drafted_by},
                {"certificate.checked", certificate.checked_by},
                {"certificate.issued_by", certificate.issued_by},
                {"certificate.replaced_by", certificate.superseded_by},
                {"certificate.refers_to", certificate.refers_to},
                {"certificate.why", certificate.reason}};
    if (certificate.drift)
        facts.emplace_back("certificate.drift", words.number(certificate.drift->percent, 2) + " % (" +
                                                    words.number(certificate.drift->at_mm_h, 1) +
                                                    " mm/h, E_n " + words.number(certificate.drift->En, 2) +
                                                    ", " + certificate.drift->since + ")");
    out.add(card(words.text("certificate.about"), facts_list(words, facts)));
    Html runs;
    if (came_out && came_out->as_found)
        runs.add(run_came_out(words, "gauge_on.as_found", *came_out->as_found, issued));
    if (came_out && came_out->as_left)
        runs.add(run_came_out(words, "gauge_on.as_left", *came_out->as_left, issued));
    if (!came_out) runs.raw("<p>").text(words.text("verdict.failed")).raw("</p>\n");
    if (!runs.str().empty()) out.add(card(words.text("certificate.verdict"), runs));
    std::string look = "/certificates/draft/" + std::to_string(certificate.id) + "/draft.pdf";
    if (issued) {
        const std::string base = "/certificates/issued/" + url_text(certificate.number) + "/";
        look = base + "certificate.pdf";
        Html list;
        list.raw("<ul class=\"ways\">\n");
        for (const std::string& file : files)
            list.raw("<li>").add(link(base + url_text(file), file)).raw("</li>\n");
        // One that was replaced is not handed out with a station.
        if (certificate.superseded_by.empty())
            list.raw("<li>").add(link(base + "pack.zip", words.text("certificate.pack"))).raw("</li>\n");
        out.add(card(words.text("certificate.files"), list.raw("</ul>\n")));
        if (certificate.superseded_by.empty())
            out.add(card(words.text("certificate.replace_title"),
                         replace_command(visitor, words, base + "replace")));
    } else if (certificate.state != report::CertificateState::discarded) {
        out.add(card(words.text("certificate.next"),
                     draft_commands(visitor, words, certificate, may, check_gauge)));
    }
    out.raw("</div>\n");
    if (certificate.state == report::CertificateState::discarded) return out;
    out.raw("<section class=\"card\"><h2>").text(words.text("certificate.look")).raw("</h2>\n<p>");
    out.add(link(look, words.text("certificate.open"))).raw("</p>\n<iframe class=\"paper\"");
    return out.attribute("src", look).attribute("title", name).raw("></iframe></section>\n");
}

}  // namespace tipwright::page
