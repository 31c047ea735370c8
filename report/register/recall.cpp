// Which certificates rest on an instrument, asked for or because it was found faulty.
#include "report/register/certificates.hpp"
#include "report/register/dates.hpp"
#include "report/register/records.hpp"

namespace tipwright::report {
namespace {

Table::Value number_of(const Row& row, std::size_t bench) {
    if (row.null(bench)) return {};
    return number_text(row.text(bench), row.integer(bench + 1), row.integer(bench + 2));
}

Table recall_rows(Database& database, Id instrument, const std::string& from, const std::string& to,
                  std::size_t limit) {
    check_date("from", from, true);
    check_date("to", to, true);
    if (to < from)
        stop(FaultCode::inconsistent, "the time ends on " + to + ", before it begins on " + from, "to",
             "give the earlier day first");
    if (!database.row("SELECT id FROM instruments WHERE id = :p1", "i", {instrument}))
        stop(FaultCode::unknown_field, "the register has no instrument " + std::to_string(instrument),
             "instrument");
    Table out{{"certificate", "used_on", "serial", "model", "customer", "contact", "calibration", "replaced"},
              {},
              false};
    database.each(
        std::string("SELECT n.bench, n.year, c.sequence, cc.used_on, g.serial, g.model, u.name, u.contact, "
                    "k.certificate, "
                    "CASE WHEN ") +
            is_superseded +
            " THEN 1 ELSE 0 END FROM calibrations k JOIN certificate_calibrations cc ON cc.calibration_id = "
            "k.id "
            "JOIN certificates c ON c.id = cc.certificate_id JOIN number_series n ON n.id = c.series_id "
            "JOIN gauges g ON g.id = c.gauge_id LEFT JOIN customers u ON u.id = g.customer_id "
            "WHERE k.instrument_id = :p1 AND cc.used_on >= :p2 AND cc.used_on <= :p3 "
            "ORDER BY cc.used_on, n.bench, n.year, c.sequence LIMIT :p4",
        "tiitttttti", {instrument, from, to, static_cast<std::int64_t>(limit) + 1}, [&](const Row& row) {
            if (out.rows.size() == limit) {
                out.cut = true;
                return;
            }
            out.rows.push_back({number_of(row, 0), text_value(row, 3), text_value(row, 4), text_value(row, 5),
                                text_value(row, 6), text_value(row, 7), text_value(row, 8),
                                std::string(row.integer(9) != 0 ? "yes" : "no")});
        });
    return out;
}

}  // namespace

void rests_on_sound_instruments(Database& database, const Record& record, const RecordRow& row,
                                const std::string& where) {
    for (const InstrumentUsed& used : record.instruments) {
        const Id instrument = find_instrument(database, instrument_of(used, row.bench));
        if (instrument == 0) continue;
        for (const InstrumentFault& fault :
             rows_where<InstrumentFault>(database, "WHERE t.instrument_id = :p1", {instrument})) {
            const bool since_calibrated = used.calibrated_on >= fault.found_on;
            if (row.calibrated_on <= fault.good_until || since_calibrated) continue;
            stop(FaultCode::not_permitted,
                 "no certificate can rest on a measurement of " + row.calibrated_on + " with the " +
                     used.role + " " + used.serial + ", found faulty on " + fault.found_on +
                     " and last known to be good on " + fault.good_until + " (" + fault.found + ")",
                 where,
                 "measure with a sound instrument; after its repair, give its bench the new calibration");
        }
    }
}

Result<Table> Register::recall(Id instrument, const std::string& from, const std::string& to,
                               std::size_t limit) {
    return snapshot(*impl_, [&] { return recall_rows(*impl_->database, instrument, from, to, limit); });
}

Result<Table> Register::instrument_failed(const Actor& actor, Id instrument, const std::string& good_until,
                                          const std::string& found_on, const std::string& found) {
    return written(*impl_, actor, Permission::any, [&](Writer& writer) {
        check_date("good_until", good_until, true);
        check_past("found_on", found_on, actor.now);
        if (found_on < good_until)
            stop(FaultCode::inconsistent, "the fault was found before the instrument was last good",
                 "found_on");
        if (found.empty()) stop(FaultCode::missing_field, "what was found is not given", "found");
        Table out = recall_rows(writer.database, instrument, good_until, found_on, 1000000);
        writer.put(InstrumentFault{0, instrument, good_until, found_on, found});
        return out;
    });
}

}  // namespace tipwright::report
