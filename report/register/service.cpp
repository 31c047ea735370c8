// Service orders: received, as found, findings and work, adjustment, as left, certificate.
#include "report/register/certificates.hpp"
#include "report/register/dates.hpp"
#include "report/register/impl.hpp"

namespace tipwright::report {
namespace {

Order open_order_row(Database& database, Id id) {
    Order out = row_with_id<Order>(database, id);
    if (!out.closed_on.empty())
        stop(FaultCode::not_permitted, "order " + std::to_string(id) + " was closed on " + out.closed_on,
             "order", "open a new one");
    return out;
}

void check_order_date(std::string_view field, const std::string& date, const Order& order,
                      std::string_view now) {
    check_past(field, date, now);
    if (date < order.received_on)
        stop(FaultCode::inconsistent, date + " is before the gauge was received, " + order.received_on,
             std::string(field));
}

}  // namespace

Result<Id> Register::open_order(const Actor& actor, const Order& order) {
    return written(*impl_, actor, Permission::any, [&](Writer& writer) {
        row_with_id<GaugeEntry>(writer.database, order.gauge);
        check_past("received_on", order.received_on, actor.now);
        if (const std::optional<Row> open = writer.database.row(
                "SELECT id FROM orders WHERE gauge_id = :p1 AND closed_on = ''", "i", {order.gauge}))
            stop(FaultCode::duplicate,
                 "order " + std::to_string(open->integer(0)) + " of this gauge is still open", "order",
                 "close it first");
        Order entered = order;
        entered.id = 0;
        entered.closed_on.clear();
        return writer.put(entered);
    });
}

Result<Id> Register::add_finding(const Actor& actor, const Finding& finding) {
    return written(*impl_, actor, Permission::any, [&](Writer& writer) {
        const Order order = open_order_row(writer.database, finding.order);
        check_order_date("found_on", finding.found_on, order, actor.now);
        if (finding.found.empty()) stop(FaultCode::missing_field, "a finding needs what was found", "found");
        Finding entered = finding;
        entered.id = 0;
        entered.person = writer.person;
        return writer.put(entered);
    });
}

Result<Id> Register::add_adjustment(const Actor& actor, const Adjustment& adjustment) {
    return written(*impl_, actor, Permission::measure, [&](Writer& writer) {
        const Order order = open_order_row(writer.database, adjustment.order);
        check_order_date("made_on", adjustment.made_on, order, actor.now);
        if (!adjustment.turns_a && !adjustment.turns_b && adjustment.work_done.empty())
            stop(FaultCode::missing_field, "neither the turns nor the work done is given", "adjustment");
        Adjustment entered = adjustment;
        entered.id = 0;
        entered.person = writer.person;
        return writer.put(entered);
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
        writer.change(order);
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
    return rows_where<Finding>(database, "WHERE t.order_id = :p1 ORDER BY t.found_on, t.id", {order});
}

std::vector<Adjustment> adjustments_of(Database& database, Id order) {
    return rows_where<Adjustment>(database, "WHERE t.order_id = :p1 ORDER BY t.made_on, t.id", {order});
}

}  // namespace tipwright::report
