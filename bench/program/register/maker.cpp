#include "bench/program/register/maker.hpp"

#include <algorithm>

#include "bench/program/register/session.hpp"
#include "bench/program/results/results.hpp"
#include "report/certificate/document_words.hpp"
#include "report/certificate/letterhead.hpp"
#include "report/certificate/work_words.hpp"
#include "report/dcc/dcc.hpp"
#include "report/pack/formula_text.hpp"
#include "report/pack/pack.hpp"
#include "report/register/kept_curve.hpp"
#include "report/seal/qr.hpp"
#include "report/tables/correction_csv.hpp"

namespace tipwright::program {

namespace {

// ISO 3166-1 leaves ZZ to its users: it stands for the country of invented laboratories.
constexpr const char* invented_country = "ZZ";

std::string in_groups(const std::string& digits, std::size_t group, std::size_t groups_a_line) {
    std::string out;
    for (std::size_t i = 0; i < digits.size(); i += group) {
        if (i > 0) out += (i / group) % groups_a_line == 0 ? "\n" : " ";
        out += digits.substr(i, group);
    }
    return out;
}

Result<report::SealMark> mark_of(const seal::Seal& seal) {
    auto code = seal::qr_matrix(seal::qr_text(seal));
    if (!code) return code.fault();
    return report::SealMark{std::move(*code), seal.number + "\n" + in_groups(seal.fingerprint, 8, 2)};
}

std::vector<report::ServiceWork> work_of(const report::IssueSheet& sheet) {
    std::vector<report::ServiceWork> out;
    for (const auto& finding : sheet.findings)
        out.push_back({finding.found_on, finding.found, finding.work_done, {}, {}});
    for (const auto& adjustment : sheet.adjustments)
        out.push_back({adjustment.made_on, "", adjustment.work_done, adjustment.turns_a, adjustment.turns_b});
    std::stable_sort(out.begin(), out.end(), [](const auto& a, const auto& b) { return a.on < b.on; });
    return out;
}

std::vector<report::EarlierErrors> history_of(const report::IssueSheet& sheet) {
    std::vector<report::EarlierErrors> out;
    for (const auto& earlier : sheet.history) {
        out.push_back({earlier.on, earlier.number, earlier.state, {}});
        for (const report::KeptPoint& point : report::curve_from_text(earlier.points))
            out.back().points.push_back({point.reference_mm_h, point.error_percent, point.U_percent});
    }
    return out;
}

std::optional<report::EarlierCertificate> earlier_of(report::CertificateKind kind, const std::string& number,
                                                     const std::string& reason) {
    if (kind == report::CertificateKind::original) return std::nullopt;
    return report::EarlierCertificate{kind == report::CertificateKind::amendment, number, reason};
}

}  // namespace

Result<CertificateMaker> CertificateMaker::load(const CommonOptions& common, const Layout& layout) {
    CertificateMaker out;
    auto words = certificate_words(common, layout.language);
    if (!words) return words.fault();
    out.options_.words = std::move(*words);
    out.options_.paper = paper_named(layout.paper);
    if (layout.budgets == "all") out.options_.budgets = report::Budgets::every_step;
    if (!layout.letterhead.empty()) {
        auto head = report::load_letterhead(layout.letterhead);
        if (!head) return head.fault();
        out.options_.letterhead = std::move(*head);
    }
    out.country_ = layout.country.empty() ? out.options_.letterhead.country : layout.country;
    return out;
}

void CertificateMaker::sign_with(const seal::X509Key& signer, const std::string& moment) {
    options_.signature = {signer.cms_size(), signer.facts().name, moment};
}

Outcome CertificateMaker::can_issue(const report::Record& record) const {
    if (!trial_time().empty() && !record.invented)
        return Fault{FaultCode::not_permitted,
                     "the time is set for a trial, but the record is not an invented one",
                     "TIPWRIGHT_TRIAL_NOW", "unset it: certificates carry the true date"};
    if (report::certificate::issuer_of(record, options_.letterhead.laboratory).name.empty())
        return Fault{FaultCode::missing_field, "no laboratory is named that issues it",
                     "record " + visible(record.number) + ", gauge " + visible(record.identity.serial),
                     "give laboratory = \"NAME\" in a letterhead, and that with --letterhead FILE"};
    if (country_.empty() && !record.invented)
        return Fault{FaultCode::missing_field, "the country of the laboratory is not given", "--country",
                     "give two capital letters after ISO 3166-1 with --country or in the letterhead"};
    return Done{};
}

Result<report::Documents> CertificateMaker::documents(const report::IssueSheet& sheet,
                                                      const seal::SigningKey& key) const {
    const report::Record& record = sheet.as_left ? *sheet.as_left : *sheet.as_found;
    if (const Outcome can = can_issue(record); !can) return can.fault();
    const bool both = sheet.as_left && sheet.as_found;
    report::CertificateOptions options = options_;
    auto mark = mark_of(sheet.seal);
    if (!mark) return mark.fault();
    options.seal = std::move(*mark);
    if (both) options.as_found = sheet.as_found;
    options.earlier = earlier_of(sheet.kind, sheet.refers_to, sheet.reason);
    options.checked_by = sheet.checked_by;
    options.drift = sheet.drift;
    options.history = history_of(sheet);
    options.work = work_of(sheet);
    report::Documents out;
    auto pdf = report::draw_certificate(record, options);
    if (!pdf) return pdf.fault();
    out.pdf = std::move(*pdf);

    report::DccOptions dcc;
    dcc.words = options_.words;
    dcc.country = country_.empty() && record.invented ? invented_country : country_;
    if (both) dcc.as_found = sheet.as_found;
    if (options.earlier) {
        const auto known = earlier_.find(sheet.refers_to);
        dcc.replaces = report::ReplacedCertificate{options.earlier->amended, sheet.refers_to,
                                                   known == earlier_.end() ? "" : known->second};
    }
    dcc.laboratory = options.letterhead.laboratory;
    dcc.work = report::certificate::work_words(dcc.words, options.work);
    dcc.pdf_name = sheet.number + ".pdf";
    out.xml_with = [dcc = std::move(dcc), record](const std::string& sealed) {
        report::DccOptions with_pdf = dcc;
        with_pdf.pdf = sealed;
        return report::dcc_xml(record, with_pdf);
    };

    const auto add_text = [&](std::string_view name, const std::string& text) {
        out.others.push_back({std::string(name), seal::seal_file(seal::FileKind::text, text, sheet.number,
                                                                 sheet.issued_on, key)});
    };
    if (record.evaluation.correction) {
        const auto table = report::correction_csv(record, options_.words);
        if (!table) return table.fault();
        add_text(report::pack::correction_name, *table);
    }
    add_text(report::pack::formula_name, report::formula_text(record, options_.words));
    return out;
}

Result<std::string> CertificateMaker::translation(const report::Certificate& certificate,
                                                  const report::Record& record,
                                                  const std::optional<report::Record>& as_found,
                                                  const std::string& language) const {
    report::CertificateOptions options = options_;
    options.as_found = as_found;
    options.earlier = earlier_of(certificate.kind, certificate.refers_to, certificate.reason);
    options.checked_by = certificate.checked_by;
    options.translation = report::TranslationOf{language};
    return report::draw_certificate(record, options);
}

Result<std::string> CertificateMaker::draft(const report::Certificate& certificate,
                                            const report::Record& record,
                                            const std::optional<report::Record>& as_found) const {
    report::CertificateOptions options = options_;
    options.as_found = as_found;
    options.earlier = earlier_of(certificate.kind, certificate.refers_to, certificate.reason);
    options.checked_by = certificate.checked_by;
    return report::draw_certificate(record, options);
}

}  // namespace tipwright::program
