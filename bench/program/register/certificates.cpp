// Showing, listing and handing out certificates.
#include "bench/program/register/certificates.hpp"

#include <charconv>
#include <cstdio>
#include <nlohmann/json.hpp>

#include "bench/program/register/certificate_options.hpp"
#include "bench/program/register/commands.hpp"
#include "bench/program/register/session_options.hpp"
#include "bench/program/terminal.hpp"
#include "calib/base/rounding.hpp"
#include "report/files/files.hpp"
#include "report/pack/pack.hpp"

namespace tipwright::program {

Outcome write_certificate(report::Register& reg, const std::string& number,
                          const std::filesystem::path& folder, bool force) {
    const auto files = report::pack::certificate_files(reg, number);
    if (!files) return files.fault();
    // All are looked at before one is written: a certificate is not left of two origins.
    for (const auto& file : *files) {
        std::error_code ignored;
        if (force || !std::filesystem::exists(folder / file.path, ignored)) continue;
        if (const auto there = read_file(folder / file.path); !there || *there != file.bytes)
            return Fault{FaultCode::duplicate, "there is another file already", (folder / file.path).string(),
                         "give another folder"};
    }
    if (auto made = make_folder(folder / number); !made) return made;
    for (const auto& file : *files)
        if (auto written = write_file(folder / file.path, file.bytes); !written) return written;
    return Done{};
}

namespace {

struct CertificateWish {
    Session session;
    std::string which;  // number, or a draft's id
    std::vector<std::string> numbers;
    report::ListFilter list;
    std::filesystem::path out;
    std::filesystem::path csv;
};

std::string_view word_of(report::CertificateState state) {
    switch (state) {
        case report::CertificateState::draft:
            return "draft, to be checked by a second person";
        case report::CertificateState::checked:
            return "checked, to be issued";
        case report::CertificateState::issued:
            return "issued";
        case report::CertificateState::discarded:
            break;
    }
    return "discarded";
}

std::string signed_off(const std::string& person, const std::string& at) {
    return person.empty() ? "" : person + ", " + at;
}

std::vector<std::pair<std::string, std::string>> facts_of(const report::Certificate& certificate) {
    std::vector<std::pair<std::string, std::string>> out{
        {"certificate", certificate.number},
        {"draft", std::to_string(certificate.id)},
        {"state", std::string(word_of(certificate.state))},
        {"serial", certificate.serial},
        {"calibrated_on", certificate.calibrated_on},
        {"shows", certificate.as_found != 0 && certificate.as_left != 0 ? "as found and as left"
                  : certificate.as_left != 0                            ? "as left"
                                                                        : "as found"}};
    if (!certificate.refers_to.empty()) {
        out.emplace_back(certificate.kind == report::CertificateKind::amendment ? "amends" : "replaces",
                         certificate.refers_to);
        out.emplace_back("reason", certificate.reason);
    }
    out.emplace_back("drafted", signed_off(certificate.drafted_by, certificate.drafted_at));
    out.emplace_back("checked", signed_off(certificate.checked_by, certificate.checked_at));
    out.emplace_back("issued", signed_off(certificate.issued_by, certificate.issued_at));
    if (certificate.drift)
        out.emplace_back("drift", calib::fixed(certificate.drift->percent, 2) + " % at " +
                                      calib::fixed(certificate.drift->at_mm_h, 1) + " mm/h since " +
                                      certificate.drift->since +
                                      ", E_n = " + calib::fixed(certificate.drift->En, 2));
    out.emplace_back("replaced_by", certificate.superseded_by);
    for (const std::string& number : certificate.amended_by) out.emplace_back("amended_by", number);
    if (certificate.seal) {
        out.emplace_back("fingerprint", certificate.seal->fingerprint);
        out.emplace_back("key", certificate.seal->key_id);
    }
    out.emplace_back("pdf_sha256", certificate.pdf_sha256);
    out.emplace_back("xml_sha256", certificate.xml_sha256);
    std::erase_if(out, [](const auto& fact) { return fact.second.empty(); });
    return out;
}

ExitCode show_certificate(const CommonOptions& common, const CertificateWish& options) {
    auto reg = open_register(options.session);
    if (!reg) return refuse(common, reg.fault());
    std::int64_t draft = 0;
    const std::string& which = options.which;
    const auto [end, error] = std::from_chars(which.data(), which.data() + which.size(), draft);
    const bool by_id = error == std::errc{} && end == which.data() + which.size();
    const auto certificate = by_id ? reg->certificate(draft) : reg->certificate(which);
    if (!certificate) return refuse(common, certificate.fault());
    nlohmann::ordered_json document;
    for (const auto& [name, value] : facts_of(*certificate)) {
        if (common.json)
            document[name] = value;
        else
            print_to(stdout, "%-14s %s\n", name.c_str(), visible(value).c_str());
    }
    if (common.json) print_json(document);
    return ExitCode::done;
}

ExitCode list_certificates(const CommonOptions& common, const CertificateWish& options) {
    auto reg = open_register(options.session);
    if (!reg) return refuse(common, reg.fault());
    return show(common, reg->list_certificates(options.list), options.csv);
}

ExitCode export_certificates(const CommonOptions& common, const CertificateWish& options) {
    auto reg = open_register(options.session);
    if (!reg) return refuse(common, reg.fault());
    std::string said;
    for (const std::string& number : options.numbers) {
        if (const Outcome written = write_certificate(*reg, number, options.out, true); !written)
            return refuse(common, written.fault());
        said += (said.empty() ? "" : "\n") + (options.out / number).string();
    }
    return say(common, said, {{"certificates", static_cast<std::int64_t>(options.numbers.size())}});
}

}  // namespace

void add_certificate_group(CommandLine& line) {
    const auto group =
        add_group(line.app, "certificate", "Draft, check, issue, amend, replace and export certificates");
    add_draft_verbs(line, group);
    add_issue(line, group);
    add_following(line, group);
    add_translate(line, group);

    auto show_one =
        add_verb(line, group, "show", "Show what the register knows of a certificate", show_certificate);
    add_session(show_one.command, show_one->session, false);
    show_one.command.add_option("which", show_one->which, "Number of a certificate or of a draft").required();

    auto list = add_verb(line, group, "list", "List the latest certificates and drafts", list_certificates);
    add_session(list.command, list->session, false);
    list.command.add_option("--serial", list->list.serial, "Only of this gauge").type_name("SERIAL");
    add_owner(list.command, list->list);
    list->list.limit = 50;
    list.command.add_option("--rows", list->list.limit, "Maximum number of rows").show_default();
    add_csv(list.command, list->csv);

    auto hand_out = add_verb(line, group, "export", "Write the files of certificates, one folder each",
                             export_certificates);
    add_session(hand_out.command, hand_out->session, false);
    hand_out.command.add_option("certificates", hand_out->numbers, "Numbers of the certificates")
        .required()
        .type_name("NUMBER");
    hand_out.command.add_option("--out", hand_out->out, "Folder to write to").required().type_name("DIR");
    add_force(hand_out.command, [options = hand_out.options] {
        std::vector<std::filesystem::path> places;
        for (const std::string& number : options->numbers) places.push_back(options->out / number);
        return places;
    });
}

}  // namespace tipwright::program
