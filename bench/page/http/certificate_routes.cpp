// Certificates: lists, one of them, and what is done with it.
#include <algorithm>

#include "bench/page/http/desk_asked.hpp"
#include "calib/base/joined.hpp"

namespace tipwright::page {

Response DeskRoutes::certificates(Asked& asked) {
    CertificatesShown shown;
    auto open = desk_.open_work();
    if (!open) return asked.unshown(open.fault());
    shown.open_work = std::move(*open);
    shown.wanted.serial = field_of(asked.request.query, "serial");
    shown.wanted.customer = field_of(asked.request.query, "customer");
    auto found = desk_.certificates(shown.wanted);
    // A customer that the register does not know has none.
    if (found) shown.found = std::move(*found);
    std::reverse(shown.found.rows.begin(), shown.found.rows.end());
    shown.check_gauge = check_gauge();
    return asked.framed("certificates", asked.words.text("certificates.title"),
                        certificates_screen(asked.visitor, asked.words, shown), 200);
}

Response DeskRoutes::certificate(Asked& asked, const Result<report::Certificate>& found) {
    if (!found) return asked.not_found();
    std::vector<std::string> files;
    std::optional<CheckGaugeSeen> control;
    const bool waits =
        found->state == report::CertificateState::draft || found->state == report::CertificateState::checked;
    if (waits) control = check_gauge();
    Permissions may;
    if (waits && asked.actor) {
        const auto known = desk_.permissions(asked.actor->person);
        if (!known) return asked.unshown(known.fault());
        may = *known;
    }
    if (found->state == report::CertificateState::issued) {
        auto names = desk_.files(found->number);
        if (!names) return asked.unshown(names.fault());
        files = std::move(*names);
    }
    const std::string title = found->number.empty()
                                  ? asked.words.text("certificate.draft", {{"n", std::to_string(found->id)}})
                                  : found->number;
    return asked.framed(
        "certificate", title,
        certificate_screen(asked.visitor, asked.words, *found, files, may, control, desk_.came_out(*found)),
        200);
}

Response DeskRoutes::draft_command(Asked& asked) {
    const auto [number, what] = parts_after(asked.request.path, draft_path);
    const auto id = id_of(number);
    if (!id) return asked.not_found();
    const std::string reason = field_of(asked.request.form, "reason");
    Outcome done = Done{};
    if (what == "check") {
        done = desk_.check(*asked.actor, *id);
    } else if (what == "send-back") {
        done = desk_.send_back(*asked.actor, *id, reason);
    } else if (what == "discard") {
        done = desk_.discard(*asked.actor, *id, reason);
        if (done) return redirect_to("/certificates");
    } else if (what == "issue") {
        std::string& given = asked.request.form["seal"];
        if (given.size() > most_passphrase) return asked.not_found();
        const seal::Passphrase passphrase(std::move(given));
        const auto issued = desk_.issue(*asked.actor, *id, passphrase, reason);
        if (issued && issued->warnings.empty())
            return redirect_to(std::string(issued_path) + url_text(issued->number));
        if (issued)
            return asked.told(200, asked.words.text("certificate.issued_but", {{"number", issued->number}}),
                              joined(issued->warnings));
        done = issued.fault();
    } else {
        return asked.not_found();
    }
    return done ? redirect_to(std::string(draft_path) + std::to_string(*id)) : asked.refused(done.fault());
}

}  // namespace tipwright::page
