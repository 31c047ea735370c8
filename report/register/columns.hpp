// Columns of the register's tables as describe() (describe.hpp) names them, and what follows from them: the
// CREATE TABLE statement, the list for SELECT, what each value must keep to. Private to report/register.
#pragma once

#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace tipwright::report {

struct Column {
    enum class Use {
        own,      // said by who writes the row
        secret,   // the same, and never shown
        key,      // made of other columns, for UNIQUE
        derived,  // follows from other rows: kept for speed, recomputed when the register is inspected
    };
    enum class Content { plain, id, name, text, date, flag, interval };

    std::string_view name;
    char type = 't';     // as in Database::each; two columns for an interval
    bool needed = true;  // never NULL; text that is not given is kept empty
    Use use = Use::own;
    Content content = Content::plain;
    std::string_view refers_to = {};            // table
    std::string_view check = {};                // SQL
    double low = -1e300, high = 1e300;          // of a number
    std::span<const std::string_view> names{};  // of an enumeration, in the order of its values
};

namespace column {

inline Column id() {
    return {.name = "id", .type = 'i', .content = Column::Content::id};
}
// One line, not empty.
inline Column name(std::string_view name) {
    return {.name = name, .content = Column::Content::name};
}
inline Column text(std::string_view name) {
    return {.name = name, .content = Column::Content::text};
}
inline Column date(std::string_view name) {
    return {.name = name, .content = Column::Content::date};
}
// Text the register writes itself: times, digests, names.
inline Column plain(std::string_view name) {
    return {.name = name};
}
// The same, NULL when empty.
inline Column maybe(std::string_view name) {
    return {.name = name, .needed = false};
}
inline Column secret(std::string_view name) {
    return {.name = name, .use = Column::Use::secret};
}
inline Column key(std::string_view name) {
    return {.name = name, .use = Column::Use::key};
}
inline Column derived(std::string_view name) {
    return {.name = name, .needed = false, .use = Column::Use::derived, .content = Column::Content::date};
}
inline Column flag(std::string_view name) {
    return {.name = name, .type = 'i', .content = Column::Content::flag};
}
inline Column whole(std::string_view name, std::string_view check = {}) {
    return {.name = name, .type = 'i', .check = check};
}
inline Column maybe_whole(std::string_view name, std::string_view check = {}) {
    return {.name = name, .type = 'i', .needed = false, .check = check};
}
// NULL when not known.
inline Column number(std::string_view name, double low = -1e300, double high = 1e300) {
    return {.name = name, .type = 'r', .needed = false, .low = low, .high = high};
}
// The id of a row of another table.
inline Column of(std::string_view table, std::string_view name) {
    return {.name = name, .type = 'i', .refers_to = table};
}
// The same, NULL for none.
inline Column maybe_of(std::string_view table, std::string_view name) {
    return {.name = name, .type = 'i', .needed = false, .refers_to = table};
}
// interval_months and interval_agreed: an interval stands only with a note of where the customer agreed to it
// (ISO/IEC 17025:2017 7.8.4.3).
inline Column interval() {
    return {.name = "interval", .type = 'i', .needed = false, .content = Column::Content::interval};
}
inline Column choice(std::string_view name, std::span<const std::string_view> names) {
    return {.name = name, .names = names};
}

}  // namespace column

// What describe() does not say of a table.
struct TableInfo {
    std::string_view name;
    std::string_view subject;  // in the log, and to people
    std::vector<std::string_view> constraints{};
    std::vector<std::string_view> key{"id"};  // orders it
    std::string_view part_of{};  // a row belongs to the row of this table that its first key names
    int since = 1;               // version of the schema that brought the table
};

struct TableShape {
    std::string name;
    std::string subject;
    std::vector<std::string> columns;
    std::string types;             // letters as in Database::each
    std::vector<std::string> key;  // columns that order it, from the first
    std::vector<bool> stated;      // the column belongs to the state that the log keeps of a row
    std::string part_of;
    int since = 1;
    std::string create;  // for the schema; $id $int $text $real $end as in migrations.hpp
    bool own_id = false;

    // "g.id, g.serial, ..."
    std::string list(std::string_view prefix = {}) const;
};

}  // namespace tipwright::report
