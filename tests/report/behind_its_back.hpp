// A register changed by whoever has its database, past its guards, which stand again afterwards.
#pragma once

#include <catch2/catch.hpp>
#include <memory>
#include <string>
#include <utility>
#include <vector>

#include "report/register/audit.hpp"
#include "report/register/database.hpp"
#include "report/register/rows.hpp"

namespace tipwright::test {

inline void behind_its_back(report::Database& raw, const std::string& table, const std::string& statement) {
    if (raw.dialect() == report::Dialect::postgresql) {
        raw.run("ALTER TABLE " + table + " DISABLE TRIGGER ALL");
        raw.run(statement);
        raw.run("ALTER TABLE " + table + " ENABLE TRIGGER ALL");
        return;
    }
    std::vector<std::pair<std::string, std::string>> guards;
    for (const report::Row& row :
         raw.rows("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'", "tt"))
        guards.emplace_back(row.text(0), row.text(1));
    for (const auto& guard : guards) raw.run("DROP TRIGGER " + guard.first);
    raw.run("PRAGMA ignore_check_constraints=ON");
    raw.run(statement);
    for (const auto& guard : guards) raw.run(guard.second);
}

// An entry that says of the row what it now is, as a program of before wrote one with the next command, not
// looking whether it was changed in between.
inline void logged_as_it_is(report::Database& raw, const std::string& subject, report::Id id,
                            const std::string& person, const std::string& at) {
    const report::TableShape* shape = report::shape_of_subject(subject);
    REQUIRE(shape != nullptr);
    raw.begin_write();
    report::AuditHead head = report::lock_audit_head(raw);
    report::append_audit(
        raw, head, {0, at, person, "change", subject, id, "{}", report::row_state(raw, *shape, id), ""});
    raw.commit();
}

// The chain of the log computed again from the beginning, by somebody who knows how it is made but has no
// key.
inline void compute_log_again(report::Database& raw) {
    std::string before;
    for (report::AuditEntry& entry : report::rows_where<report::AuditEntry>(raw, "ORDER BY t.seq")) {
        before = entry.hash = report::audit_hash(before, entry);
        behind_its_back(
            raw, "audit",
            "UPDATE audit SET hash = '" + entry.hash + "' WHERE seq = " + std::to_string(entry.seq));
    }
    raw.run("UPDATE audit_head SET hash = :p1", {before});
}

inline bool told_of(const report::InspectionReport& report, const std::string& what) {
    std::string all;
    for (const Fault& fault : report.faults) all += fault.line() + "\n";
    for (const std::string& accepted : report.accepted) all += accepted + "\n";
    UNSCOPED_INFO(all);
    return all.find(what) != std::string::npos;
}

}  // namespace tipwright::test
