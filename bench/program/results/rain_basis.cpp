#include "bench/program/results/rain_basis.hpp"

#include <algorithm>
#include <chrono>
#include <set>

#include "bench/program/register/session.hpp"
#include "bench/program/results/file_kind.hpp"
#include "bench/program/results/read_record.hpp"
#include "calib/base/dates.hpp"
#include "report/files/attachments.hpp"
#include "report/files/files.hpp"
#include "report/record/certificate_reader.hpp"
#include "report/record/record_json.hpp"
#include "report/record/statement_of.hpp"

namespace tipwright::program {

namespace {

// An as-left record so soon after the as-found one is of the same visit (common practice, no source).
constexpr double one_visit_s = 60 * day_s;

struct Calibration {
    double when_s = 0;
    report::Record record;
    std::string from;  // file, or number in the register
};

Outcome take(std::vector<Calibration>& out, report::Record record, const std::string& from) {
    const auto when = moment_s(record.ended_at);
    if (!when || !record.evaluation.model || !record.evaluation.correction)
        return Fault{FaultCode::missing_field, "there is no correction in it", from,
                     "give a certificate of a run at several rates whose steps are stated"};
    if (!out.empty() && record.identity.serial != out.front().record.identity.serial)
        return Fault{FaultCode::inconsistent,
                     "is of gauge " + in_quotes(record.identity.serial) + ", the first of " +
                         in_quotes(out.front().record.identity.serial),
                     from, "give certificates of one gauge"};
    // The same run may come twice: as a record and in its certificate.
    const bool known = std::any_of(out.begin(), out.end(), [&](const Calibration& one) {
        return one.record.source_sha256 == record.source_sha256 && one.when_s == *when &&
               one.record.state == record.state;
    });
    if (!known) out.push_back({*when, std::move(record), from});
    return Done{};
}

// A draft bears no number of its own: its file, and what its journal's bytes hash to.
std::string name_of_certificate(const Calibration& one) {
    if (one.record.number != "DRAFT") return one.record.number;
    return one.record.number + " (" + one.from + ", journal " + one.record.source_sha256.substr(0, 12) + ")";
}

Outcome take_file(std::vector<Calibration>& out, const std::filesystem::path& file) {
    auto record = read_sound_record(file);
    if (!record) return record.fault();
    const auto kind = kind_of(file);
    if (!kind) return kind.fault();
    if (*kind == FileKind::certificate) {
        const auto pdf = read_file(file);
        if (!pdf) return pdf.fault();
        const auto names = report::attachment_names(*pdf, file.string());
        if (!names) return names.fault();
        const std::string found(report::attached_as_found_name);
        if (std::find(names->begin(), names->end(), found) != names->end()) {
            const auto text = report::read_attachment(*pdf, file.string(), found);
            if (!text) return text.fault();
            auto earlier = report::record_from_json(*text, file.string());
            if (!earlier) return earlier.fault();
            if (auto fault = unsound(*earlier, file.string())) return *fault;
            if (earlier->number.empty() || earlier->number == "DRAFT") earlier->number = record->number;
            if (auto done = take(out, std::move(*earlier), file.string()); !done) return done;
        }
    }
    return take(out, std::move(*record), file.string());
}

Outcome take_serial(std::vector<Calibration>& out, const std::string& serial, const Session& session) {
    const Fault none{FaultCode::file_missing,
                     in_quotes(serial) + " is neither a file nor a serial number with an issued certificate",
                     "--certificate", "name a certificate or record, or the register: --register"};
    auto reg = open_register(session);
    if (!reg) return is_no_register(reg.fault()) ? without_register(none, session, reg.fault()) : reg.fault();
    report::ListFilter filter;
    filter.serial = serial;
    const auto list = reg->list_certificates(filter);
    if (!list) return list.fault().code == FaultCode::unknown_field ? none : list.fault();
    bool any = false;
    std::set<report::Id> taken;
    for (const auto& row : list->rows) {
        const auto certificate = reg->certificate(std::get<std::int64_t>(row[1]));
        if (!certificate) return certificate.fault();
        if (certificate->state != report::CertificateState::issued || !certificate->superseded_by.empty())
            continue;
        for (const report::Id id : {certificate->as_found, certificate->as_left}) {
            if (id == 0 || !taken.insert(id).second) continue;
            auto record = kept_sound_record(*reg, id, certificate->number);
            if (!record) return record.fault();
            record->number = certificate->number;
            if (auto done = take(out, std::move(*record), certificate->number); !done) return done;
            any = true;
        }
    }
    if (!any) return none;
    return Done{};
}

}  // namespace

std::optional<double> moment_s(const std::string& iso) {
    const auto date = iso_date(iso.substr(0, 10));
    if (!date) return std::nullopt;
    double seconds = day_s * static_cast<double>(std::chrono::sys_days(*date).time_since_epoch().count());
    if (iso.size() >= 19) {
        const auto part = [&](std::size_t at) { return (iso[at] - '0') * 10 + (iso[at + 1] - '0'); };
        seconds += 3600 * part(11) + 60 * part(14) + part(17);
    }
    return seconds;
}

Result<RainBasis> rain_basis(const std::vector<std::string>& named, const Session& session,
                             report::RainReport& report) {
    std::vector<Calibration> all;
    for (const auto& one : named) {
        std::error_code ignored;
        const auto done =
            std::filesystem::exists(one, ignored) ? take_file(all, one) : take_serial(all, one, session);
        if (!done) return done.fault();
    }
    std::stable_sort(all.begin(), all.end(), [](const Calibration& a, const Calibration& b) {
        return a.when_s < b.when_s || (a.when_s == b.when_s && a.record.state == report::State::as_found &&
                                       b.record.state == report::State::as_left);
    });
    RainBasis out;
    for (std::size_t i = 0; i < all.size(); ++i) {
        const report::Record& record = all[i].record;
        const double when = all[i].when_s;
        auto curve = calib::DepthCurve::make(*record.evaluation.model, record.gauge);
        if (!curve) return Fault{curve.fault().code, curve.fault().what, all[i].from, curve.fault().remedy};
        report::RainCertificate certificate;
        certificate.number = name_of_certificate(all[i]);
        certificate.calibrated_on = record.ended_at.substr(0, 10);
        certificate.state = record.state;
        certificate.reservations = report::reservation_notes(record);
        const bool found = record.state == report::State::as_found;
        if (found && !out.reigns.empty() && !out.reigns.back().found) {
            out.reigns.back().found = *curve;
            out.reigns.back().found_at_s = when;
            report.drift_known = true;
        }
        const bool adjusted_then = found && i + 1 < all.size() &&
                                   all[i + 1].record.state == report::State::as_left &&
                                   all[i + 1].when_s - when < one_visit_s;
        // What was found at a visit says how the gauge was before it; of a gauge never calibrated before, all
        // the time before.
        if (!adjusted_then || out.reigns.empty()) {
            calib::RainCalibration reign;
            reign.from_s = when;
            if (!out.reigns.empty()) {
                certificate.from = certificate.calibrated_on;
                if (!out.reigns.back().found)
                    report.drift_unseen.emplace_back(report.certificates.back().calibrated_on,
                                                     certificate.calibrated_on);
            }
            reign.left = std::move(*curve);
            out.reigns.push_back(std::move(reign));
        }
        report.certificates.push_back(std::move(certificate));
    }
    const report::Record& last = all.back().record;
    out.gauge = calib::rain_gauge(last.gauge, calib::observations_of(last.evaluation));
    out.debounce_s = last.gauge.debounce_s;
    report.first_calibrated_s = all.front().when_s;
    report.first_as_left = all.front().record.state == report::State::as_left;
    report.last_calibrated_s = all.back().when_s;
    report.gauge = last.identity.kind_title + ", " + last.identity.serial;
    report.serial = last.identity.serial;
    report.invented = last.invented;
    report.origin = last.origin;
    report.nominal_mm = last.gauge.nominal_tip_mm;
    for (const auto& step : calib::observations_of(last.evaluation))
        report.highest_mm_h = std::max(report.highest_mm_h, step.set_intensity_mm_h);
    return out;
}

}  // namespace tipwright::program
