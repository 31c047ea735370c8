// Service orders: received, as found, findings and work, adjustment, as left, certificate.
#include "report/register/certificates.hpp"
#include "report/register/dates.hpp"
#include "report/register/detail.hpp"
#include "report/register/impl.hpp"

namespace tipwright::report {
namespace {

Order open_order_row(Database& database, Id id) {
    const std::optional<Row> row = database.row(
        "SELECT id, gauge_id, received_on, condition, request, closed_on FROM orders WHERE id = :p1",
        "iitttt", {id});
    if (!row) stop(FaultCode::unknown_field, "the register has no order " + std::to_string(id), "order");
    Order out{row->integer(0), row->integer(1), row->text(2), row->text(3), row->text(4), row->text(5)};
    if (!out.closed_on.empty())
        stop(FaultCode::not_permitted, "order " + std::to_string(id) + " was closed on " + out.closed_on,
             "order", "open a new one");
    return out;
}

Adjustment adjustment_from(const Row& row) {
    return {row.integer(0),    row.text(1),       row.maybe_real(2), row.maybe_real(3),
            row.maybe_real(4), row.maybe_real(5), row.text(6)};
}

void check_order_date(std::string_view field, const std::string& date, const Order& order) {
    check_date(field, date, true);
    if (date < order.received_on)
        stop(FaultCode::inconsistent, date + " is before the gauge was received, " + order.received_on,
             std::string(field));
}

}  // namespace

Result<Id> Register::open_order(const Actor& actor, const Order& order) {
    return written(*impl_, actor, Permission::any, [&](Writer& writer) {
        read_gauge(writer.database, order.gauge);
        check_date("received_on", order.received_on, true);
        check_text("condition", order.condition);
        check_text("request", order.request);
        if (const std::optional<Row> open = writer.database.row(
                "SELECT id FROM orders WHERE gauge_id = :p1 AND closed_on = ''", "i", {order.gauge}))
            stop(FaultCode::duplicate,
                 "order " + std::to_string(open->integer(0)) + " of this gauge is still open", "order",
                 "close it first");
        const Id id = writer.database.insert(
            "INSERT INTO orders (gauge_id, received_on, condition, request, closed_on) VALUES (:p1, :p2, "
            ":p3, "
            ":p4, '') "
            "RETURNING id",
            {order.gauge, order.received_on, order.condition, order.request});
        Order entered = order;
        entered.closed_on.clear();
        writer.log("enter", "order", id, detail_of(entered));
        return id;
    });
}

Result<Id> Register::add_finding(const Actor& actor, const Finding& finding) {
    return written(*impl_, actor, Permission::any, [&](Writer& writer) {
        const Order order = open_order_row(writer.database, finding.order);
        check_order_date("found_on", finding.found_on, order);
        if (finding.found.empty()) stop(FaultCode::missing_field, "nothing found is no finding", "found");
        check_text("found", finding.found);
        check_text("work_done", finding.work_done);
        const Id id = writer.database.insert(
            "INSERT INTO findings (order_id, person_id, found_on, found, work_done) VALUES (:p1, :p2, :p3, "
            ":p4, :p5) "
            "RETURNING id",
            {order.id, writer.person, finding.found_on, finding.found, finding.work_done});
        writer.log("enter", "finding", id,
                   Detail()
                       .integer("order", order.id)
                       .text("found_on", finding.found_on)
                       .text("found", finding.found)
                       .text("work_done", finding.work_done)
                       .json());
        return id;
    });
}

Result<Id> Register::add_adjustment(const Actor& actor, const Adjustment& adjustment) {
    return written(*impl_, actor, Permission::measure, [&](Writer& writer) {
        const Order order = open_order_row(writer.database, adjustment.order);
        check_order_date("made_on", adjustment.made_on, order);
        check_range("turns_a", adjustment.turns_a, -50, 50);
        check_range("turns_b", adjustment.turns_b, -50, 50);
        check_range("change_a_mL", adjustment.change_a_mL, -50, 50);
        check_range("change_b_mL", adjustment.change_b_mL, -50, 50);
        check_text("work_done", adjustment.work_done);
        if (!adjustment.turns_a && !adjustment.turns_b && adjustment.work_done.empty())
            stop(FaultCode::missing_field, "neither turns nor what was done", "adjustment");
        const Id id = writer.database.insert(
            "INSERT INTO adjustments (order_id, person_id, made_on, turns_a, turns_b, change_a_mL, "
            "change_b_mL, work_done) "
            "VALUES (:p1, :p2, :p3, :p4, :p5, :p6, :p7, :p8) RETURNING id",
            {order.id, writer.person, adjustment.made_on, nullable(adjustment.turns_a),
             nullable(adjustment.turns_b), nullable(adjustment.change_a_mL), nullable(adjustment.change_b_mL),
             adjustment.work_done});
        writer.log("enter", "adjustment", id,
                   Detail()
                       .integer("order", order.id)
                       .text("made_on", adjustment.made_on)
                       .real("turns_a", adjustment.turns_a)
                       .real("turns_b", adjustment.turns_b)
                       .real("change_a_mL", adjustment.change_a_mL)
                       .real("change_b_mL", adjustment.change_b_mL)
                       .text("work_done", adjustment.work_done)
                       .json());
        return id;
    });
}

Outcome Register::close_order(const Actor& actor, Id id) {
    return written(*impl_, actor, Permission::any, [&](Writer& writer) {
        Order order = open_order_row(writer.database, id);
        if (const std::optional<Row> waiting = writer.database.row(
                "SELECT id FROM certificates WHERE order_id = :p1 AND state IN ('draft', 'checked') LIMIT 1",
                "i", {id}))
            stop(FaultCode::not_permitted,
                 "certificate draft " + std::to_string(waiting->integer(0)) + " of this order still waits",
                 "order", "issue or discard it first");
        order.closed_on = date_of(actor.now);
        writer.database.run("UPDATE orders SET closed_on = :p1 WHERE id = :p2", {order.closed_on, id});
        writer.log("close", "order", id, detail_of(order));
        return Done{};
    });
}

Result<Id> Register::open_order_of(Id gauge) {
    return answered([&] {
        const std::optional<Row> row = impl_->database->row(
            "SELECT id FROM orders WHERE gauge_id = :p1 AND closed_on = ''", "i", {gauge});
        return row ? row->integer(0) : Id{0};
    });
}

std::vector<Finding> findings_of(Database& database, Id order) {
    std::vector<Finding> out;
    database.each(
        "SELECT order_id, found_on, found, work_done FROM findings WHERE order_id = :p1 ORDER BY found_on, "
        "id",
        "ittt", {order}, [&](const Row& row) {
            out.push_back({row.integer(0), row.text(1), row.text(2), row.text(3)});
        });
    return out;
}

std::vector<Adjustment> adjustments_of(Database& database, Id order) {
    std::vector<Adjustment> out;
    database.each(
        "SELECT order_id, made_on, turns_a, turns_b, change_a_mL, change_b_mL, work_done FROM adjustments "
        "WHERE "
        "order_id = :p1 ORDER BY made_on, id",
        "itrrrrt", {order}, [&](const Row& row) { out.push_back(adjustment_from(row)); });
    return out;
}

Result<std::vector<Adjustment>> Register::adjustments_of_kind(const std::string& kind) {
    return answered([&] {
        std::vector<Adjustment> out;
        impl_->database->each(
            "SELECT a.order_id, a.made_on, a.turns_a, a.turns_b, a.change_a_mL, a.change_b_mL, a.work_done "
            "FROM adjustments a JOIN orders o ON o.id = a.order_id JOIN gauges g ON g.id = o.gauge_id "
            "WHERE g.kind = :p1 ORDER BY a.made_on, a.id",
            "itrrrrt", {kind}, [&](const Row& row) { out.push_back(adjustment_from(row)); });
        return out;
    });
}

}  // namespace tipwright::report
