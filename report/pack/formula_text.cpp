#include "report/pack/formula_text.hpp"

#include "report/record/statement_of.hpp"
#include "report/tables/correction_csv.hpp"

namespace tipwright::report {

namespace {

constexpr double seconds_an_hour = 3600;

// Clauses of a formula on lines of their own.
std::string on_lines(const std::string& text) {
    std::string out;
    for (std::size_t i = 0; i < text.size(); ++i) {
        if (text.compare(i, 2, "; ") == 0) {
            out += "\n    ";
            ++i;
        } else {
            out += text[i];
        }
    }
    return out;
}

}  // namespace

std::string formula_text(const Record& record, const std::vector<std::string>& reservations) {
    std::string out = "Correction for the logger\n\n";
    const auto line = [&](const std::string& name, const std::string& value) {
        out += name + std::string(name.size() < 14 ? 14 - name.size() : 1, ' ') + visible(value) + "\n";
    };
    line("Certificate", record.number);
    line("Gauge", record.identity.model + ", serial " + record.identity.serial);
    if (!record.identity.station.empty()) line("Station", record.identity.station);
    line("State", record.state == State::as_found ? "as found" : "as left");
    line("Calibrated", record.ended_at.substr(0, 10));
    line("Nominal tip", significant(record.gauge.nominal_tip_mm, 6) + " mm");
    if (record.invented) line("Mark", "demonstration, invented identities and data, of no validity");
    if (record.origin == Origin::virtual_bench) line("Mark", "virtual bench, simulated measurement");
    if (record.origin == Origin::supplied_data) line("Mark", "evaluated from supplied data");
    for (const std::string& sentence : reservations.empty() ? reservation_notes(record) : reservations)
        line("Reservation", sentence);
    out += "\n";
    const auto& correction = record.evaluation.correction;
    if (!correction || correction->rows.empty()) {
        out += record.evaluation.no_correction == calib::NoCorrection::steps_doubted
                   ? "No correction is stated: too few steps are beyond doubt.\n"
               : record.evaluation.no_correction == calib::NoCorrection::one_rate
                   ? "No rate correction was derived: measured at one rate only.\n"
                     "Each tip counts as the nominal depth.\n"
                   : "No rate correction was derived: no duration or rate was measured.\n"
                     "Each tip counts as the nominal depth.\n";
        return out;
    }
    out +=
        "A logger knows the time T in seconds between a tip and the one before it. In place of the\n"
        "nominal " +
        significant(record.gauge.nominal_tip_mm, 6) +
        " mm, that tip stands for the depth h(T) in millimetres:\n\n    " +
        on_lines(visible(correction->formula)) +
        "\n\nQ is the flow through the gauge in mL/s, A its catch area in cm2.\n";
    if (record.gauge.inlet == calib::Inlet::siphon)
        out +=
            "The siphon empties in portions of several tips: T is the mean interval over whole portions, "
            "from\n"
            "the end of one pause to the end of a later one.\n";
    out += "\nWorked example\n\n    " + visible(correction->worked_example) + "\n\nRange\n\n    T from " +
           significant(correction->interval_min_s, 5) + " s to " +
           significant(correction->interval_max_s, 5) + " s (indicated intensity " +
           significant(seconds_an_hour * record.gauge.nominal_tip_mm / correction->interval_max_s, 4) +
           " mm/h to " +
           significant(seconds_an_hour * record.gauge.nominal_tip_mm / correction->interval_min_s, 4) +
           " mm/h). Outside it nothing is stated.\n\n"
           "The table of the same correction, with uncertainties, is correction.csv.\n";
    return out;
}

}  // namespace tipwright::report
