// A server that lets nobody in: one line says whether it is the password, the user, the database, a rule of
// the server, or that there is no server.
#include "tests/report/register_fixture.hpp"

#include <stdlib.h>

using namespace tipwright;
using namespace tipwright::report;
using namespace tipwright::test;

namespace {

constexpr const char* asked_on = "2026-03-05T09:00:00Z";

void expect(const std::string& connection, FaultCode code, const std::string& words) {
    INFO(connection);
    const Result<Register> opened = Register::open(connection, asked_on);
    CHECK(refused(opened) == code);
    const std::string line = opened.fault().line();
    INFO(line);
    CHECK(line.find(words) != std::string::npos);
    CHECK(line.find("topsecret") == std::string::npos);
    CHECK(line.find("LOCATION") == std::string::npos);
}

}  // namespace

TEST_CASE("register: a refused connection says whether password, user, database or server is wrong") {
    ::unsetenv("PGPASSWORD");
    ::setenv("PGPASSFILE", "/nonexistent", 1);
    PostgresqlServer server;
    const std::string made = server.make_database();
    const std::string host = made.substr(0, made.find(' '));
    const std::string database = made.substr(made.find("dbname="));
    server.sql("CREATE ROLE clerk LOGIN PASSWORD 'right'");
    server.let_in_by(
        "local all clerk scram-sha-256\nlocal all stranger scram-sha-256\nlocal all nobody trust\n");

    const FaultCode no = FaultCode::not_permitted;
    expect(host + " user=clerk password=topsecret " + database, no,
           "refuses user \"clerk\": the password is wrong");
    expect(host + " user=stranger password=topsecret " + database, no, "refuses user \"stranger\"");
    expect(host + " user=nobody " + database, no, "the server knows no user \"nobody\"");
    expect(host + " user=clerk " + database, no, "the password of user \"clerk\" and none was given");
    expect(host + " user=clerk password=right dbname=nothing", no, "the server has no database \"nothing\"");
    expect(host + " user=outsider " + database, no,
           "does not let user \"outsider\" in (no pg_hba.conf entry");
    server.sql("REVOKE CONNECT ON DATABASE " + database.substr(7) + " FROM public");
    expect(host + " user=clerk password=right " + database, no, "user \"clerk\" may not use the database");
    server.stop();
    expect(made, FaultCode::database_unreachable, "no server answers");
    expect("host=127.0.0.1 port=1 user=clerk dbname=x", FaultCode::database_unreachable,
           "no server answers (Connection refused)");
    ::unsetenv("PGPASSFILE");
}
