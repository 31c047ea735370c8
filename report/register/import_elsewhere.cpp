// Importing calibrations that other laboratories made, from CSV: a line a point of their result table.
// Columns, in any order: serial, calibrated_on, certificate are needed; model (where a serial is there
// twice), laboratory, intensity_mm_h, error_percent, U_percent (expanded, k = 2). A certificate of which only
// date and number are known has one line without the last three. Lines of one gauge and certificate are one
// calibration, wherever they stand. One that is there already is changed where the list differs. All lines
// are looked at; one bad line and nothing is imported.
#include <algorithm>
#include <cmath>
#include <map>

#include "report/register/certificates.hpp"
#include "report/register/dates.hpp"
#include "report/register/impl.hpp"
#include "report/register/kept_curve.hpp"
#include "report/register/list_line.hpp"

namespace tipwright::report {
namespace {

constexpr std::size_t most_points = 100;
constexpr double largest_mm_h = 2000;
// As closely as the register keeps an intensity.
constexpr double same_mm_h = 0.005;

// One calibration as it is put together from its lines.
struct Gathered {
    ElsewhereCalibration entry;
    KeptCurve curve;
    bool bare = false;  // a line without a point
};

GaugeEntry gauge_of(Database& database, const Line& line) {
    const std::string serial = line.text("serial");
    const std::string model = line.text("model");
    check_name("serial", serial);
    std::vector<GaugeEntry> found =
        rows_where<GaugeEntry>(database, "WHERE t.serial_key = :p1", {key_of(serial)});
    if (!model.empty())
        std::erase_if(found, [&](const auto& one) { return key_of(one.model) != key_of(model); });
    if (found.empty())
        stop(FaultCode::unknown_field,
             "the register has no gauge " + in_quotes(serial) +
                 (model.empty() ? "" : " of model " + in_quotes(model)),
             "serial", "enter it first, or import the list of gauges");
    if (found.size() > 1)
        stop(FaultCode::bad_value, "several gauges have serial " + in_quotes(serial), "serial",
             "say which by a column \"model\"");
    return found.front();
}

std::optional<KeptPoint> point_of(const Line& line) {
    const std::optional<double> intensity = line.number("intensity_mm_h");
    const std::optional<double> error = line.number("error_percent");
    const std::optional<double> U = line.number("U_percent");
    if (!intensity && !error && !U) return std::nullopt;
    if (!intensity) stop(FaultCode::missing_field, "a result needs its intensity", "intensity_mm_h");
    if (!error) stop(FaultCode::missing_field, "a result needs its error", "error_percent");
    if (!U) stop(FaultCode::missing_field, "a result needs its expanded uncertainty", "U_percent");
    if (!(*intensity > 0 && *intensity <= largest_mm_h))
        stop(FaultCode::bad_value, line.text("intensity_mm_h") + " must be above 0 and up to 2000 mm/h",
             "intensity_mm_h");
    if (!(*error > -100 && *error <= 100))
        stop(FaultCode::bad_value, line.text("error_percent") + " must be above -100 and up to 100 %",
             "error_percent");
    if (!(*U > 0 && *U <= 100))
        stop(FaultCode::bad_value, line.text("U_percent") + " must be above 0 and up to 100 %", "U_percent");
    return KeptPoint{*intensity, *error, *U};
}

class Gathering {
public:
    void take(const Writer& writer, const Line& line) {
        Database& database = writer.database;
        const GaugeEntry gauge = gauge_of(database, line);
        const std::string certificate = line.text("certificate");
        check_name("certificate", certificate);
        if (certificate_with_number(database, certificate) != 0)
            stop(FaultCode::duplicate,
                 in_quotes(certificate) + " is a certificate of this register: it counts already",
                 "certificate");
        const std::string day = line.text("calibrated_on");
        check_past("calibrated_on", day, writer.actor.now);
        const std::optional<KeptPoint> point = point_of(line);
        const auto [at, fresh] = found_.try_emplace({gauge.id, key_of(certificate)});
        Gathered& one = at->second;
        if (fresh) {
            one.entry.gauge = gauge.id;
            one.entry.certificate = certificate;
            one.entry.calibrated_on = day;
            one.entry.laboratory = line.text("laboratory");
            check_text("laboratory", one.entry.laboratory);
            order_.push_back(&one);
        }
        if (one.entry.calibrated_on != day)
            stop(FaultCode::inconsistent,
                 "certificate " + in_quotes(certificate) + " is of " + one.entry.calibrated_on + " above",
                 "calibrated_on", "give all its lines the same date");
        if (const std::string laboratory = line.text("laboratory");
            !fresh && !laboratory.empty() && laboratory != one.entry.laboratory)
            stop(FaultCode::inconsistent,
                 "certificate " + in_quotes(certificate) + " is by " + in_quotes(one.entry.laboratory) +
                     " above",
                 "laboratory", "give all its lines the same laboratory");
        add(one, point, certificate);
    }

    void store(Writer& writer, ImportReport& report) {
        for (Gathered* one : order_) {
            std::sort(one->curve.begin(), one->curve.end(), [](const KeptPoint& a, const KeptPoint& b) {
                return a.reference_mm_h < b.reference_mm_h;
            });
            one->entry.points = curve_text(one->curve);
            store(writer, one->entry, report);
        }
    }

private:
    static void add(Gathered& one, const std::optional<KeptPoint>& point, const std::string& certificate) {
        if (!point || one.bare) {
            if (one.bare || !one.curve.empty())
                stop(FaultCode::duplicate,
                     "certificate " + in_quotes(certificate) +
                         " has a line without a result, and another line",
                     "certificate", "a line without a result stands alone");
            one.bare = true;
            return;
        }
        if (one.curve.size() == most_points)
            stop(FaultCode::bad_value, "more than 100 results of one certificate", "certificate");
        for (const KeptPoint& other : one.curve)
            if (std::abs(other.reference_mm_h - point->reference_mm_h) < same_mm_h)
                stop(FaultCode::duplicate,
                     "certificate " + in_quotes(certificate) + " has this intensity twice", "intensity_mm_h");
        one.curve.push_back(*point);
    }

    static void store(Writer& writer, ElsewhereCalibration entry, ImportReport& report) {
        Database& database = writer.database;
        const auto known =
            row_where<ElsewhereCalibration>(database, "t.gauge_id = :p1 AND t.certificate_key = :p2",
                                            {entry.gauge, key_of(entry.certificate)});
        entry.person = writer.person;
        if (known) {
            entry.id = known->id;
            entry.certificate = known->certificate;  // the list may write it another way
            if (known->calibrated_on == entry.calibrated_on && known->laboratory == entry.laboratory &&
                known->points == entry.points) {
                ++report.unchanged;
                return;
            }
        }
        writer.put(entry);
        database.run("UPDATE gauges AS g SET last_calibrated_on = " + std::string(last_calibration_sql) +
                         " WHERE g.id = :p1",
                     {entry.gauge});
        refresh_due(database, entry.gauge);
        ++(known ? report.changed : report.added);
    }

    std::map<std::pair<Id, std::string>, Gathered> found_;
    std::vector<Gathered*> order_;  // as they come in the list
};

}  // namespace

Result<ImportReport> Register::import_calibrations(const Actor& actor, std::string_view csv,
                                                   const std::string& name) {
    Gathering gathering;
    return import_list(
        *impl_, actor, csv, name,
        {{"serial", "model", "calibrated_on", "certificate", "laboratory", "intensity_mm_h", "error_percent",
          "U_percent"},
         {"serial", "calibrated_on", "certificate"}},
        [&](Writer& writer, const Line& line, ImportReport&) { gathering.take(writer, line); },
        [&](Writer& writer, ImportReport& report) { gathering.store(writer, report); });
}

}  // namespace tipwright::report
