#include "report/register/as_logged.hpp"

#include "report/register/certificates.hpp"

namespace tipwright::report {
namespace {

// Found by the index audit_subject, however long the log is.
std::optional<Row> last_entry(Database& database, const std::string& subject, Id id) {
    return database.row(
        "SELECT seq, state FROM audit WHERE subject_id = :p1 AND subject = :p2 ORDER BY seq DESC LIMIT 1",
        "it", {id, subject});
}

std::int64_t place_of(const std::optional<Row>& entry) {
    return entry ? entry->integer(0) : 0;
}

// What was found and done on an order: the rows that say so, and those that the log says were entered for it,
// for one may have been moved to another order.
void work_must_be_as_logged(Database& database, Id order) {
    for (const Finding& finding : findings_of(database, order))
        must_be_as_logged<Finding>(database, finding.id);
    for (const Adjustment& adjustment : adjustments_of(database, order))
        must_be_as_logged<Adjustment>(database, adjustment.id);
    std::vector<std::pair<const TableShape*, Id>> entered;
    database.each(
        "SELECT subject, subject_id, detail FROM audit WHERE seq > (SELECT min(seq) FROM audit WHERE "
        "subject_id = :p1 AND subject = 'order') AND subject IN ('finding', 'adjustment') AND action = "
        "'enter' ORDER BY seq",
        "tit", {order}, [&](const Row& entry) {
            if (integer_in(entry.text(2), "order_id") == order)
                entered.emplace_back(shape_of_subject(entry.text(0)), entry.integer(1));
        });
    for (const auto& [shape, id] : entered) must_be_as_logged(database, *shape, id);
}

}  // namespace

void must_be_as_logged(Database& database, const TableShape& shape, Id id) {
    if (id == 0) return;
    std::optional<Row> before = last_entry(database, shape.subject, id);
    for (;;) {
        const std::string state = row_state(database, shape, id);
        if (before && state == before->text(1)) return;
        if (!before && state.empty()) no_such_row(shape.subject, id);
        // On a server another bench may have written between the two.
        std::optional<Row> now = last_entry(database, shape.subject, id);
        if (place_of(now) == place_of(before)) break;
        before = std::move(now);
    }
    stop(
        FaultCode::damaged, "is not as the register's log left it: it was changed outside the program",
        shape.subject + " " + std::to_string(id),
        "'tipwright register check' names all such rows; restore the last backup, or have the change undone");
}

void record_must_be_as_logged(Database& database, Id record) {
    if (record == 0) return;
    must_be_as_logged<StoredRecord>(database, record);
    const StoredRecord row = row_with_id<StoredRecord>(database, record);
    must_be_as_logged<StoredRun>(database, row.run);
    must_be_as_logged<Person>(database, row.person);
}

void certificate_must_rest_on_the_log(Database& database, Id certificate) {
    must_be_as_logged<StoredCertificate>(database, certificate);
    const StoredCertificate row = row_with_id<StoredCertificate>(database, certificate);
    must_be_as_logged<Person>(database, row.drafted_by);
    must_be_as_logged<Person>(database, row.checked_by);
    must_be_as_logged<GaugeEntry>(database, row.gauge);
    const GaugeEntry gauge = row_with_id<GaugeEntry>(database, row.gauge);
    must_be_as_logged<Customer>(database, gauge.customer);
    must_be_as_logged<Station>(database, gauge.station);
    must_be_as_logged<StoredCertificate>(database, row.refers_to);
    if (row.order != 0) {
        must_be_as_logged<Order>(database, row.order);
        work_must_be_as_logged(database, row.order);
    }
    for (const Id record : {row.as_found, row.as_left}) record_must_be_as_logged(database, record);
    const RecordRow first = read_record(database, row.as_found != 0 ? row.as_found : row.as_left);
    for (const EarlierRecord& earlier : records_before(database, first, row.refers_to)) {
        must_be_as_logged<StoredCertificate>(database, earlier.certificate);
        record_must_be_as_logged(database, earlier.record);
    }
}

}  // namespace tipwright::report
