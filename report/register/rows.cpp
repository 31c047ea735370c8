#include "report/register/rows.hpp"

#include <algorithm>
#include <charconv>

#include "calib/base/joined.hpp"
#include "report/register/impl.hpp"
#include "report/register/page_rows.hpp"
#include "report/seal/digest.hpp"
#include "report/seal/encoding.hpp"

namespace tipwright::report {
namespace {

std::string sql_of(const Column& column) {
    std::string out(column.name);
    if (column.content == Column::Content::id) return out + " $id";
    out += column.type == 'i' ? " $int" : column.type == 'r' ? " $real" : " $text";
    if (column.needed) out += " NOT NULL";
    std::string check(column.check);
    if (column.content == Column::Content::name || column.use == Column::Use::key)
        check = std::string(column.name) + " <> ''";
    if (column.content == Column::Content::flag) check = std::string(column.name) + " IN (0, 1)";
    if (!column.names.empty()) {
        for (const std::string_view name : column.names)
            check += (check.empty() ? "" : ", ") + ("'" + std::string(name) + "'");
        check = std::string(column.name) + " IN (" + check + ")";
    }
    if (!check.empty()) out += " CHECK (" + check + ")";
    if (!column.refers_to.empty()) out += " REFERENCES " + std::string(column.refers_to) + " (id)";
    return out;
}

void add_cell(seal::Sha256& digest, const Cell& cell) {
    std::string text = "-";
    if (const auto* integer = std::get_if<std::int64_t>(&cell)) text = "i" + std::to_string(*integer);
    if (const auto* said = std::get_if<std::string>(&cell)) text = "t" + *said;
    if (const auto* real = std::get_if<double>(&cell)) {
        char out[40];
        const auto end = std::to_chars(out, out + sizeof out, *real);
        text = "r" + std::string(out, end.ptr);
    }
    digest.add(std::to_string(text.size()) + ":");
    digest.add(text);
}

void add_row(seal::Sha256& digest, const TableShape& shape, const Row& row) {
    digest.add(shape.name + "\n");
    for (std::size_t i = 0; i < row.cells.size(); ++i)
        if (shape.stated[i]) add_cell(digest, row.cells[i]);
}

// A row with those that belong to it.
std::string state_of(Database& database, const TableShape& shape, const Row& row) {
    seal::Sha256 digest;
    add_row(digest, shape, row);
    for (const TableShape* part : all_shapes())
        if (part->part_of == shape.name)
            database.each("SELECT " + part->list() + " FROM " + part->name +
                              " WHERE certificate_id = :p1 ORDER BY " + joined(part->key, ", "),
                          part->types, {row.integer(0)},
                          [&](const Row& other) { add_row(digest, *part, other); });
    return seal::to_base64(digest.bytes());
}

template <class... T>
std::vector<const TableShape*> shapes() {
    return {&shape_of<T>()...};
}

}  // namespace

std::string TableShape::list(std::string_view prefix) const {
    std::string out;
    for (const std::string& column : columns) out += (out.empty() ? "" : ", ") + std::string(prefix) + column;
    return out;
}

ShapeMaker::ShapeMaker(const TableInfo& info) : info_(info) {
    shape_.name = info.name;
    shape_.subject = info.subject;
    shape_.part_of = info.part_of;
    shape_.since = info.since;
    for (const std::string_view column : info.key) shape_.key.emplace_back(column);
}

void ShapeMaker::add(const Column& column) {
    const auto put = [&](std::string_view name, char type, const std::string& sql) {
        shape_.columns.emplace_back(name);
        shape_.types.push_back(type);
        shape_.stated.push_back(column.use != Column::Use::derived);
        shape_.create += (shape_.create.empty() ? "\n  " : ",\n  ") + sql;
    };
    if (column.content == Column::Content::interval) {
        put("interval_months", 'i', "interval_months $int CHECK (interval_months BETWEEN 1 AND 240)");
        put("interval_agreed", 't', "interval_agreed $text NOT NULL");
        return;
    }
    put(column.name, column.type, sql_of(column));
    shape_.own_id = shape_.own_id || column.content == Column::Content::id;
}

TableShape ShapeMaker::finish() {
    for (const std::string_view constraint : info_.constraints)
        shape_.create += ",\n  " + std::string(constraint);
    if (!shape_.own_id) shape_.create += ",\n  PRIMARY KEY (" + joined(shape_.key, ", ") + ")";
    shape_.create = "CREATE TABLE " + shape_.name + " (" + shape_.create + "\n) " +
                    (shape_.part_of.empty() ? "$end" : "$clustered");
    return std::move(shape_);
}

void no_such_row(std::string_view subject, Id id) {
    stop(FaultCode::unknown_field, "the register has no " + std::string(subject) + " " + std::to_string(id),
         std::string(subject));
}

std::size_t RowReader::place_of(const Column& column, const std::string& name) {
    const auto found = std::find(column.names.begin(), column.names.end(), name);
    return found == column.names.end() ? 0 : static_cast<std::size_t>(found - column.names.begin());
}

void CellMaker::add(const Column& column, Cell cell) {
    if (column.content == Column::Content::id || column.use == Column::Use::derived) return;
    names.emplace_back(column.name);
    if (column.use == Column::Use::own) {
        if (const auto* text = std::get_if<std::string>(&cell)) detail.text(column.name, *text);
        if (const auto* integer = std::get_if<std::int64_t>(&cell)) detail.integer(column.name, *integer);
        if (const auto* real = std::get_if<double>(&cell)) detail.real(column.name, *real);
    }
    cells.push_back(std::move(cell));
}

void CellMaker::operator()(const Column&, const std::optional<AgreedInterval>& value) {
    add(column::maybe_whole("interval_months"), value ? Cell(std::int64_t{value->months}) : Cell());
    add(column::text("interval_agreed"), value ? value->agreed : std::string());
}

void ValueCheck::operator()(const Column& column, const std::string& value) {
    if (column.use == Column::Use::derived) return;
    if (column.content == Column::Content::name) check_name(column.name, value);
    if (column.content == Column::Content::text) check_text(column.name, value);
    if (column.content == Column::Content::date) check_date(column.name, value);
}

void ValueCheck::operator()(const Column& column, const std::optional<double>& value) {
    check_range(column.name, value, column.low, column.high);
}

void ValueCheck::operator()(const Column&, const std::optional<AgreedInterval>& value) {
    check_interval(value);
}

Id store_cells(Database& database, const std::string& table, CellMaker made, Id id, bool own_id) {
    std::vector<std::string> places;
    for (std::size_t i = 0; i < made.names.size(); ++i)
        places.push_back((id != 0 && own_id ? made.names[i] + " = :p" : ":p") + std::to_string(i + 1));
    if (id != 0 && own_id) {
        made.cells.emplace_back(id);
        const std::string update = "UPDATE " + table + " SET " + joined(places, ", ") + " WHERE id = :p" +
                                   std::to_string(made.cells.size());
        database.run(update, std::move(made.cells));
        return id;
    }
    const std::string insert =
        "INSERT INTO " + table + " (" + joined(made.names, ", ") + ") VALUES (" + joined(places, ", ") + ")";
    if (own_id) return database.insert(insert + " RETURNING id", std::move(made.cells));
    database.run(insert, std::move(made.cells));
    return 0;
}

std::string row_state(Database& database, const TableShape& shape, Id id) {
    const std::optional<Row> row =
        database.row("SELECT " + shape.list() + " FROM " + shape.name + " WHERE id = :p1", shape.types, {id});
    return row ? state_of(database, shape, *row) : std::string();
}

std::string state_of_cells(const TableShape& shape, const Row& row) {
    seal::Sha256 digest;
    add_row(digest, shape, row);
    return seal::to_base64(digest.bytes());
}

void each_state(Database& database, const TableShape& shape,
                const std::function<void(Id, const std::string&)>& take) {
    for (std::optional<Id> after;;) {
        const std::string condition = after ? " WHERE id > :p2" : "";
        std::vector<Cell> cells{page_rows};
        if (after) cells.emplace_back(*after);
        const std::vector<Row> page = database.rows(
            "SELECT " + shape.list() + " FROM " + shape.name + condition + " ORDER BY id LIMIT :p1",
            shape.types, cells);
        for (const Row& row : page) take(row.integer(0), state_of(database, shape, row));
        if (page.size() < static_cast<std::size_t>(page_rows)) return;
        after = page.back().integer(0);
    }
}

const std::vector<const TableShape*>& all_shapes() {
    static const std::vector<const TableShape*> all =
        shapes<Person, Customer, Station, GaugeEntry, InstrumentEntry, InstrumentCalibration, InstrumentFault,
               Order, Finding, Adjustment, StoredRun, StoredRecord, NumberSeries, NumberGap,
               StoredCertificate, CertificateDocument, CalibrationUsed, AuditEntry, AuditHead, LogSeal,
               ElsewhereCalibration, FieldCheckEntry>();
    return all;
}

const TableShape* shape_of_subject(std::string_view subject) {
    for (const TableShape* shape : all_shapes())
        if (!subject.empty() && shape->subject == subject) return shape;
    return nullptr;
}

}  // namespace tipwright::report
