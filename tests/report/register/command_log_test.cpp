// What was commanded from a page stands in the audit log, and the log stays whole.
#include "report/register/command_log.hpp"
#include "tests/report/register_fixture.hpp"

using namespace tipwright;
using namespace tipwright::report;
using namespace tipwright::test;

namespace {

std::string last_entry(Register& reg) {
    return as_csv(got(reg.audit_log(1)));
}

}  // namespace

TEMPLATE_TEST_CASE("register: commands of a page are logged with person and device", "", OnSqlite,
                   OnPostgresql) {
    Laboratory<TestType> lab;
    lab.certified("4711");
    const PageCommand stop{
        "T. Technician", "tablet at 192.0.2.7", "/run/left/stop", {{"runs", "left, \"right\""}}};
    done(log_command(lab.location, "2026-03-06T09:00:00Z", stop));
    const std::string entry = last_entry(lab.reg);
    for (const char* part : {"T. Technician", "command", "page", "tablet at 192.0.2.7", "/run/left/stop",
                             "left, ", "2026-03-06T09:00:00Z"})
        CHECK(entry.find(part) != std::string::npos);
    // Nobody need be logged in to stop.
    done(log_command(lab.location, "2026-03-06T09:00:01Z", {"", "192.0.2.9", "/stop", {}}));
    CHECK(last_entry(lab.reg).find("192.0.2.9") != std::string::npos);
    CHECK(lab.inspected().faults.empty());
    // What comes after is written as before.
    lab.certified("4712", "2026-03-07");
    CHECK(lab.inspected().faults.empty());
}

TEMPLATE_TEST_CASE("register: a clock that was set back loses no command and is not believed", "", OnSqlite,
                   OnPostgresql) {
    Laboratory<TestType> lab;
    lab.certified("4711");
    const PageCommand stop{"", "127.0.0.1", "/stop", {}};
    done(log_command(lab.location, "2020-01-01T00:00:00Z", stop));
    CHECK(last_entry(lab.reg).find("2026-03-05T09:00:00Z") != std::string::npos);
    CHECK(last_entry(lab.reg).find("2020-01-01T00:00:00Z") != std::string::npos);
    // It does not open the door for writes of that time.
    CHECK(refused(lab.reg.put_customer(at(technician, "2020-01-01T00:00:01Z"), {0, "Late", "", "", {}})) ==
          FaultCode::inconsistent);
    done(log_command(lab.location, "", stop));
    CHECK(refused(Result<int>(log_command(lab.location, "yesterday", stop).fault())) == FaultCode::bad_value);
    CHECK(lab.inspected().faults.empty());
}

TEST_CASE("register: there is nothing to log into where there is no register") {
    const ScratchFolder folder;
    CHECK_FALSE(log_command(folder / "none", "2026-03-06T09:00:00Z", {"", "127.0.0.1", "/stop", {}}).ok());
}
