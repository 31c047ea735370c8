// Labels for gauges: serial number, calibrated on, due on, number and square code of the certificate, as PDF
// for sheets of labels and for tape. Lengths in mm. Sizes of sheets are common practice, no source; measure
// yours. Faults: those of Canvas; bad_value (a place that the sheet does not have).
#pragma once

#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "calib/base/fault.hpp"
#include "report/certificate/words.hpp"
#include "report/seal/qr.hpp"

namespace tipwright::report {

struct Label {
    std::string serial;
    std::string model;
    std::string calibrated_on;  // ISO date
    std::string due_on;         // ISO date; empty: none is agreed
    std::string certificate;    // number
    seal::QrMatrix code;        // of the certificate's seal
    bool invented = false;      // a demonstration; the label says so
};

struct LabelSheet {
    std::string_view name;  // "a4-3x8"
    std::string_view title;
    double page_width;
    double page_height;
    double left;  // of the first label
    double top;
    double width;  // of a label
    double height;
    double pitch_x;  // from label to label
    double pitch_y;
    int columns;
    int rows;
};

std::span<const LabelSheet> label_sheets();

// `first`: place of the first label on the first sheet, from 1, row by row, for a sheet that was begun.
Result<std::string> labels_pdf(const std::vector<Label>& labels, const LabelSheet& sheet, int first,
                               const certificate::Words& words);

}  // namespace tipwright::report
