// The comparison as CSV and as lines for a terminal.
#include <algorithm>
#include <cmath>

#include "calib/base/padding.hpp"
#include "calib/base/rounding.hpp"
#include "calib/base/text.hpp"
#include "report/comparison/comparison.hpp"
#include "report/files/inert_text.hpp"
#include "report/record/statement_of.hpp"
#include "report/tables/correction_csv.hpp"

namespace tipwright::report {

namespace {

constexpr std::size_t cell_width = 17;

std::string state_word(State state) {
    return state == State::as_found ? "as_found" : "as_left";
}

// At most so many characters, the last an ellipsis when something was cut.
std::string shortened(const std::string& text, std::size_t most) {
    if (code_point_count(text) <= most) return text;
    std::string out;
    std::size_t at = 0;
    for (std::size_t n = 0; n + 1 < most; ++n) append_utf8(out, next_code_point(text, at));
    return out + "…";
}

std::string kept_words(const ComparedRecord& record) {
    if (!record.kept.kept_at_all) return "not at " + significant(record.kept.from_mm_h, 4) + " mm/h";
    return "up to " + significant(record.kept.to_mm_h, 4) + " mm/h" +
           (record.kept.kept_to_the_end ? " (all tested)" : "");
}

std::string left_out_words(const ComparedRecord& record) {
    return record.key +
           ": of these steps nothing is stated, and they are left out here: " + step_list(record.left_out);
}

}  // namespace

std::string comparison_csv(const Comparison& comparison) {
    std::string out = "# tipwright comparison of records; accuracy " +
                      significant(comparison.request.limit_percent, 6) + " %" +
                      (comparison.request.guarded ? " with the expanded uncertainty" : "") + "\n";
    out += "# U: expanded uncertainty, coverage probability " +
           significant(100 * comparison.request.coverage, 6) + " %; E_n against record " +
           comparison.records.front().key + " (ISO 13528:2022)\n";
    for (const GaugeDrift& drift : comparison.drifts) {
        const auto pair =
            calib::round_with_uncertainty(drift.drift.percent_per_year.value, drift.drift.U_percent_per_year);
        out += "# drift of " + visible(drift.serial) + " at " + significant(drift.intensity_mm_h, 4) +
               " mm/h: " + pair.value + " % per year, U = " + pair.uncertainty + "\n";
    }
    for (const ComparedRecord& record : comparison.records)
        if (!record.left_out.empty()) out += "# " + left_out_words(record) + "\n";
    out +=
        "key,gauge,serial,state,started_at,certificate,intensity_mm_h,error_percent,U_percent,En,kept_to_mm_"
        "h\n";
    for (std::size_t i = 0; i < comparison.records.size(); ++i) {
        const ComparedRecord& record = comparison.records[i];
        for (const ComparedIntensity& row : comparison.intensities) {
            if (!row.errors[i]) continue;
            const ComparedError& error = *row.errors[i];
            const auto pair = calib::round_with_uncertainty(error.percent.value, error.U_percent);
            out += record.key + "," + text_field(record.name) + "," + text_field(record.serial) + "," +
                   state_word(record.state) + "," + text_field(record.started_at) + "," +
                   text_field(record.number) + "," + significant(row.intensity_mm_h, 6) + "," + pair.value +
                   "," + pair.uncertainty + "," + (error.en ? calib::fixed(*error.en, 2) : "") + "," +
                   (record.kept.kept_at_all ? significant(record.kept.to_mm_h, 5) : "") + "\n";
        }
    }
    return out;
}

std::string comparison_text(const Comparison& comparison) {
    std::string out;
    const std::string limit = "±" + significant(comparison.request.limit_percent, 4) + " %";
    for (const ComparedRecord& record : comparison.records)
        out += flush_left(record.key, 3) + flush_left(shortened(visible(record.name), 36), 38) +
               flush_left(record.state == State::as_found ? "as found" : "as left", 10) +
               flush_left(record.started_at.substr(0, 10), 12) + limit + " " + kept_words(record) + "\n";
    for (const ComparedRecord& record : comparison.records)
        if (!record.left_out.empty()) out += left_out_words(record) + "\n";
    out += "\nerror % (U), and E_n against " + comparison.records.front().key + "\n" + flush_right("mm/h", 8);
    for (const ComparedRecord& record : comparison.records) out += flush_right(record.key, cell_width);
    out += "\n";
    for (const ComparedIntensity& row : comparison.intensities) {
        std::string values = flush_right(significant(row.intensity_mm_h, 4), 8);
        std::string numbers = flush_right("E_n", 8);
        bool any_number = false;
        for (const auto& error : row.errors) {
            std::string cell = "–";
            std::string number;
            if (error) {
                const auto pair = calib::round_with_uncertainty(error->percent.value, error->U_percent);
                cell = pair.value + " (" + pair.uncertainty + ")";
                if (error->en)
                    number = calib::fixed(*error->en, 2) + (std::abs(*error->en) > 1 ? " !" : "  ");
            }
            any_number = any_number || !number.empty();
            values += flush_right(cell, cell_width);
            numbers += flush_right(number, cell_width);
        }
        out += values + "\n" + (any_number ? numbers + "\n" : "");
    }
    if (!comparison.drifts.empty()) out += "\ndrift in service, % per year (U)\n";
    for (const GaugeDrift& drift : comparison.drifts) {
        const auto pair =
            calib::round_with_uncertainty(drift.drift.percent_per_year.value, drift.drift.U_percent_per_year);
        out += flush_left(shortened(visible(drift.serial), 30), 32) +
               flush_left(significant(drift.intensity_mm_h, 4) + " mm/h", 12) +
               flush_left(pair.value + " (" + pair.uncertainty + ")", 18) +
               (drift.drift.significant ? "significant" : "not significant") + "\n";
    }
    return out;
}

}  // namespace tipwright::report
