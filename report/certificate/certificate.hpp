// Certificate: the PDF a laboratory signs, drawn from a record and nothing else, with the record attached.
// Content after ISO/IEC 17025:2017 clauses 7.8.2 (common), 7.8.4 (calibration), 7.8.6 (conformity).
// The same record, words and fonts give the same bytes.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "calib/base/fault.hpp"
#include "calib/decision/drift.hpp"
#include "report/certificate/canvas.hpp"
#include "report/certificate/pdf_finish.hpp"
#include "report/certificate/words.hpp"
#include "report/files/attachments.hpp"
#include "report/record/record.hpp"
#include "report/seal/qr.hpp"

namespace tipwright::report {

enum class Paper { a4, letter };
// Whose uncertainty budget the annex shows.
enum class Budgets { largest, every_step };

// The issued document that this is a translation of. It bears no seal, no record and no signature: those are
// the issued document's.
struct TranslationOf {
    std::string language;  // of the issued document, ISO 639-1; empty: not known
};

// A square code (QR) and what stands under it. The register makes it; empty: no seal is drawn.
struct SealMark {
    seal::QrMatrix code;
    std::string caption;  // may have several lines
};

// An issued certificate of the same gauge that this one amends or replaces (ISO/IEC 17025:2017 7.8.8).
struct EarlierCertificate {
    bool amended = false;  // false: replaced
    std::string number;
    std::string reason;
};

// The errors of an earlier calibration of the gauge, as it left.
struct EarlierErrors {
    struct Point {
        double reference_mm_h = 0;
        double error_percent = 0;
        double U_percent = 0;
    };
    std::string on;  // ISO date
    std::string number;
    State state = State::as_found;
    std::vector<Point> points;  // ascending intensity
};

// What was found on a gauge in service, done to it, or turned at its stop screws (turns, clockwise positive).
struct ServiceWork {
    std::string on;  // ISO date
    std::string found;
    std::string done;
    std::optional<double> turns_a;
    std::optional<double> turns_b;
};

// The laboratory's own head: a picture (PNG or JPEG bytes) and lines of text.
struct Letterhead {
    std::string picture;
    std::string picture_name;  // for messages
    std::string mark;          // of its accreditation: a picture of its own
    std::string mark_name;     // for messages
    std::string
        laboratory;       // who issues, where the record names no laboratory or that of others; may be empty
    std::string note;     // under the name, for example the accreditation; may be empty
    std::string foot;     // at the foot of each page; may be empty
    std::string country;  // of the laboratory, ISO 3166-1 alpha-2, for the DCC; may be empty
};

struct CertificateOptions {
    Paper paper = Paper::a4;
    certificate::Words words;
    certificate::Fonts fonts;
    Letterhead letterhead;
    std::optional<SealMark> seal;
    std::optional<EarlierCertificate> earlier;
    std::optional<calib::LargestDrift> drift;  // between the calibration before and this one as found
    std::vector<EarlierErrors> history;        // oldest first; at most four are shown
    std::vector<ServiceWork> work;
    std::string checked_by;  // empty: not said
    certificate::SignaturePlace signature;
    Budgets budgets = Budgets::largest;
    std::optional<TranslationOf> translation;
    // The same gauge before adjustment. Then both states are shown, the correction is that of the record.
    std::optional<Record> as_found;
};

// Bytes of the PDF. Faults: not_permitted (an accreditation mark on what is no calibration certificate),
// inconsistent (record incomplete, no steps, as-found of another gauge), those of
// the fonts (file_missing, damaged), bad_value (a letter the font lacks), damaged (picture).
Result<std::string> draw_certificate(const Record& record, const CertificateOptions& options);

}  // namespace tipwright::report
