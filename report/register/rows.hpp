// Rows read and written by their description (describe.hpp): every statement names its columns from there.
// Private to report/register.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <type_traits>
#include <vector>

#include "report/register/database.hpp"
#include "report/register/describe.hpp"
#include "report/register/detail.hpp"

namespace tipwright::report {

// The shape of a table from the columns its description names.
class ShapeMaker {
public:
    explicit ShapeMaker(const TableInfo& info);
    template <class T>
    void operator()(const Column& column, const T&) {
        add(column);
    }
    template <class Make>
    void key(const Column& column, Make) {
        add(column);
    }
    TableShape finish();

private:
    void add(const Column& column);
    const TableInfo& info_;
    TableShape shape_;
};

template <class T>
const TableShape& shape_of() {
    static const TableShape shape = [] {
        ShapeMaker maker(table_of<T>);
        const T none{};
        describe(maker, none);
        return maker.finish();
    }();
    return shape;
}

// All tables in an order in which they can be loaded.
const std::vector<const TableShape*>& all_shapes();

[[noreturn]] void no_such_row(std::string_view subject, Id id);

// From the columns of a row, beginning with the first of the description.
class RowReader {
public:
    explicit RowReader(const Row& row) : row_(row) {}
    void operator()(const Column&, std::string& value) { value = row_.text(at_++); }
    void operator()(const Column&, bool& value) { value = row_.integer(at_++) != 0; }
    void operator()(const Column&, std::int64_t& value) { value = row_.integer(at_++); }
    void operator()(const Column&, std::optional<double>& value) { value = row_.maybe_real(at_++); }
    void operator()(const Column&, std::optional<AgreedInterval>& value) {
        if (!row_.null(at_)) value = AgreedInterval{static_cast<int>(row_.integer(at_)), row_.text(at_ + 1)};
        at_ += 2;
    }
    template <class E>
    requires std::is_enum_v<E>
    void operator()(const Column& column, E& value) {
        value = static_cast<E>(place_of(column, row_.text(at_++)));
    }
    template <class Make>
    void key(const Column&, Make) {
        ++at_;
    }
    // First column after the description's.
    std::size_t at() const { return at_; }

private:
    static std::size_t place_of(const Column& column, const std::string& name);
    const Row& row_;
    std::size_t at_ = 0;
};

// Cells in step with the columns. `named`: only of those that are written by hand, for the log.
class CellMaker {
public:
    void operator()(const Column& column, const std::string& value) {
        add(column, column.needed || !value.empty() ? Cell(value) : Cell());
    }
    void operator()(const Column& column, bool value) { add(column, std::int64_t{value ? 1 : 0}); }
    void operator()(const Column& column, std::int64_t value) {
        add(column, column.needed || value != 0 ? Cell(value) : Cell());
    }
    void operator()(const Column& column, const std::optional<double>& value) {
        add(column, nullable(value));
    }
    void operator()(const Column& column, const std::optional<AgreedInterval>& value);
    template <class E>
    requires std::is_enum_v<E>
    void operator()(const Column& column, E value) {
        add(column, std::string(column.names[static_cast<std::size_t>(value)]));
    }
    template <class Make>
    void key(const Column& column, Make make) {
        add(column, make());
    }

    std::vector<std::string> names;
    std::vector<Cell> cells;
    Detail detail;

private:
    void add(const Column& column, Cell cell);
    Id id_ = 0;
};

// What a value must keep to; throws Stop.
class ValueCheck {
public:
    template <class T>
    void operator()(const Column&, const T&) {}
    void operator()(const Column& column, const std::string& value);
    void operator()(const Column& column, const std::optional<double>& value);
    void operator()(const Column& column, const std::optional<AgreedInterval>& value);
    template <class Make>
    void key(const Column&, Make) {}
};

template <class T>
void check_values(const T& x) {
    ValueCheck check;
    describe(check, x);
}

template <class T>
CellMaker cells_of(const T& x) {
    CellMaker out;
    describe(out, x);
    return out;
}

// One JSON object of what was said by hand: for the log, and to see whether anything changes.
template <class T>
std::string detail_of(const T& x) {
    return cells_of(x).detail.json();
}

template <class T>
T read_row(const Row& row) {
    T out;
    RowReader reader(row);
    describe(reader, out);
    return out;
}

// `rest`: what follows "SELECT ... FROM table t", with the table as t.
template <class T>
void each_row(Database& database, const std::string& rest, const std::vector<Cell>& cells,
              const std::function<void(const T&)>& take) {
    const TableShape& shape = shape_of<T>();
    database.each("SELECT " + shape.list("t.") + " FROM " + shape.name + " t " + rest, shape.types, cells,
                  [&](const Row& row) { take(read_row<T>(row)); });
}

template <class T>
std::vector<T> rows_where(Database& database, const std::string& rest, const std::vector<Cell>& cells = {}) {
    std::vector<T> out;
    each_row<T>(database, rest, cells, [&](const T& x) { out.push_back(x); });
    return out;
}

template <class T>
std::optional<T> row_where(Database& database, const std::string& condition, const std::vector<Cell>& cells) {
    std::vector<T> found = rows_where<T>(database, "WHERE " + condition, cells);
    if (found.empty()) return std::nullopt;
    return std::move(found.front());
}

// Throws Stop when there is none.
template <class T>
T row_with_id(Database& database, Id id) {
    std::optional<T> out = row_where<T>(database, "t.id = :p1", {id});
    if (!out) no_such_row(table_of<T>.subject, id);
    return std::move(*out);
}

// INSERT (`id` 0: the database gives one) or UPDATE of the row with that id; gives the id.
Id store_cells(Database& database, const std::string& table, CellMaker made, Id id, bool own_id);

template <class T>
Id store_row(Database& database, const T& x) {
    if constexpr (requires { x.id; })
        return store_cells(database, shape_of<T>().name, cells_of(x), x.id, shape_of<T>().own_id);
    else
        return store_cells(database, shape_of<T>().name, cells_of(x), 0, false);
}

// SHA-256 in base64 of a row: of all its columns but the derived ones, and of the rows that belong to it.
// Empty when it is not there.
std::string row_state(Database& database, const TableShape& shape, Id id);
// The state of these cells of a row that has no others belonging to it.
std::string state_of_cells(const TableShape& shape, const Row& row);
// The same of every row of a table, by id.
void each_state(Database& database, const TableShape& shape,
                const std::function<void(Id, const std::string& state)>& take);
// Table of a subject of the log; nullptr: of none.
const TableShape* shape_of_subject(std::string_view subject);

}  // namespace tipwright::report
