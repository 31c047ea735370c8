// Calibrations that other laboratories made, and checks in the field: what they do to the register, and what
// not.
#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>
#include <sstream>

#include "report/register/kept_curve.hpp"
#include "report/register/life_words.hpp"
#include "report/register/migrations.hpp"
#include "report/register/rows.hpp"
#include "tests/report/register_fixture.hpp"

using namespace tipwright;
using namespace tipwright::report;
using namespace tipwright::test;

namespace {

const std::string gauges =
    "serial,model,kind,customer,interval_months,interval_agreed\n"
    "F-1,Example TB-200,siphon-200,Imaginary Weather Network,24,contract 7\n"
    "F-2,Example TB-200,siphon-200,,,\n"
    "F-3,Example TB-200,siphon-200,,,\n";
const std::string calibrations =
    "serial,calibrated_on,certificate,laboratory,intensity_mm_h,error_percent,U_percent\n"
    "F-1,2025-02-03,INV-77,Invented Laboratory East,100,-2.40,0.50\n"
    "F-1,2025-02-03,INV-77,Invented Laboratory East,20,+0.80,0.60\n"
    "F-2,2024-06-01,INV-12,,,,\n"
    "F-1,2023-02-01,INV-33,Invented Laboratory East,50,0.10,0.40\n";

std::string cell(const Table& table, std::size_t row, const std::string& column) {
    for (std::size_t k = 0; k < table.columns.size(); ++k)
        if (table.columns[k] == column) return text_of(table.rows.at(row).at(k));
    FAIL("no column " << column);
    return "";
}

}  // namespace

TEMPLATE_TEST_CASE("register: calibrations made elsewhere make gauges due and are marked", "", OnSqlite,
                   OnPostgresql) {
    Laboratory<TestType> lab;
    CHECK(got(lab.reg.import_gauges(technician, gauges, "g.csv")).added == 3);
    ImportReport report = got(lab.reg.import_calibrations(technician, calibrations, "c.csv"));
    for (const Fault& fault : report.faults) UNSCOPED_INFO(fault.line());
    REQUIRE(report.faults.empty());
    CHECK(report.added == 3);
    const GaugeEntry gauge = got(lab.reg.gauges_with_serial("F-1")).at(0);
    CHECK(gauge.last_calibrated_on == "2025-02-03");
    CHECK(gauge.due_on == "2027-02-03");
    const auto kept = got(lab.reg.calibrations_elsewhere(gauge.id));
    REQUIRE(kept.size() == 2);
    CHECK(kept[0].certificate == "INV-33");
    const KeptCurve curve = curve_from_text(kept[1].points);
    REQUIRE(curve.size() == 2);
    CHECK(curve[0].reference_mm_h == 20);
    CHECK(curve[0].error_percent == Approx(0.8));
    CHECK(curve[1].U_percent == Approx(0.5));

    const Table due = got(lab.reg.due({}));
    REQUIRE(due.rows.size() == 2);  // F-2 has no interval and was calibrated
    CHECK(cell(due, 0, "serial") == "F-3");
    CHECK(cell(due, 0, "calibrated").empty());
    CHECK(cell(due, 1, "serial") == "F-1");
    CHECK(cell(due, 1, "calibrated") == "elsewhere");
    const Table life = life_table(got(lab.reg.life("F-1")));
    CHECK(cell(life, 1, "event") == "calibrated elsewhere");
    CHECK(cell(life, 1, "certificate").empty());
    CHECK(
        cell(life, 1, "detail") ==
        "certificate INV-77 by Invented Laboratory East; 20.0 mm/h: +0.80 % ± 0.60 %, 100.0 mm/h: -2.40 % ± "
        "0.50 %");

    // The same list again: nothing. A corrected one: a change, and the date that was wrong counts no longer.
    CHECK(got(lab.reg.import_calibrations(technician, calibrations, "c.csv")).unchanged == 3);
    std::string corrected = calibrations;
    for (std::size_t at; (at = corrected.find("2025-02-03")) != std::string::npos;)
        corrected.replace(at, 10, "2022-02-03");
    report = got(lab.reg.import_calibrations(technician, corrected, "c.csv"));
    CHECK(report.changed == 1);
    CHECK(report.unchanged == 2);
    CHECK(got(lab.reg.gauges_with_serial("F-1")).at(0).last_calibrated_on == "2023-02-01");
    CHECK(got(lab.reg.gauges_with_serial("F-1")).at(0).due_on == "2025-02-01");
    lab.inspected();
}

TEMPLATE_TEST_CASE("register: a calibration made elsewhere is never our own", "", OnSqlite, OnPostgresql) {
    Laboratory<TestType> lab;
    lab.certified("EX-1", "2026-03-05", 6.15);
    const std::string number = got(lab.reg.valid_certificates({})).at(0);
    const std::string model = got(lab.reg.gauges_with_serial("EX-1")).at(0).model;
    const std::string heading =
        "serial,model,calibrated_on,certificate,intensity_mm_h,error_percent,U_percent\n";
    const std::string later = heading + "EX-1," + model + ",2027-03-05,INV-1,100,-30,0.5\n";
    const Actor now = at(technician, "2027-04-01T09:00:00Z");
    CHECK(got(lab.reg.import_calibrations(now, later, "c.csv")).added == 1);
    CHECK(got(lab.reg.gauges_with_serial("EX-1")).at(0).last_calibrated_on == "2027-03-05");
    CHECK(cell(got(lab.reg.list_gauges({})), 0, "calibrated") == "elsewhere");
    CHECK(got(lab.reg.drifted("", 1, 5, "2027-04-01")).rows.empty());
    CHECK(got(lab.reg.valid_certificates({})) == std::vector<std::string>{number});
    // Our own number is no other's.
    const ImportReport own = got(lab.reg.import_calibrations(now,
                                                             heading +
                                                                 "EX-1,,"
                                                                 "2026-03-05," +
                                                                 number + ",,,\n",
                                                             "own.csv"));
    REQUIRE(own.faults.size() == 1);
    CHECK(own.faults[0].code == FaultCode::duplicate);
    // Calibrated here again, on a later day: the gauge is ours once more, and its drift is against ours of
    // before.
    lab.certified("EX-1", "2028-03-05", 6.35);
    CHECK(cell(got(lab.reg.list_gauges({})), 0, "calibrated") == "here");
    const auto numbers = got(lab.reg.valid_certificates({}));
    REQUIRE(got(lab.reg.certificate(numbers.back())).drift.has_value());
    CHECK(got(lab.reg.certificate(numbers.back())).drift->since == "2026-03-05");
    lab.inspected();
}

TEMPLATE_TEST_CASE("register: one bad line of calibrations, and nothing is entered", "", OnSqlite,
                   OnPostgresql) {
    Laboratory<TestType> lab;
    got(lab.reg.import_gauges(technician, gauges, "g.csv"));
    const std::int64_t before = lab.raw()->row("SELECT seq FROM audit_head", "i")->integer(0);
    const std::string bad =
        "serial,calibrated_on,certificate,laboratory,intensity_mm_h,error_percent,U_percent\n"
        "F-1,2025-02-03,INV-77,East,100,-2.40,0.50\n"
        "F-9,2025-02-03,INV-78,East,100,-2.40,0.50\n"
        "F-1,03.02.2025,INV-79,East,100,-2.40,0.50\n"
        "F-1,2027-02-03,INV-80,East,100,-2.40,0.50\n"
        "F-1,2025-02-03,,East,100,-2.40,0.50\n"
        "F-1,2025-02-03,INV-81,East,100,-2.40,\n"
        "F-1,2025-02-03,INV-82,East,100,-2.40,-0.5\n"
        "F-1,2025-02-03,INV-77,East,100.001,-2.40,0.50\n"
        "F-1,2025-02-04,INV-77,East,50,-2.40,0.50\n"
        "F-1,2025-02-03,INV-77,West,50,-2.40,0.50\n"
        "F-1,2025-02-03,INV-77,East,,,\n"
        "F-1,2025-02-03,INV-83,East,nan,1,1\n"
        "F-1,2025-02-03,INV-84,East,10,1,1,1\n"
        "F-1,,INV-85,East,10,1,1\n";
    const ImportReport report = got(lab.reg.import_calibrations(technician, bad, "bad.csv"));
    std::vector<std::string> places;
    for (const Fault& fault : report.faults) {
        places.push_back(fault.where);
        CHECK(fault.line().find('\n') == std::string::npos);
    }
    CHECK(places == std::vector<std::string>{"bad.csv:3:1", "bad.csv:4:5", "bad.csv:5:5", "bad.csv:6:16",
                                             "bad.csv:7:38", "bad.csv:8:38", "bad.csv:9:28", "bad.csv:10:5",
                                             "bad.csv:11:23", "bad.csv:12:16", "bad.csv:13:28", "bad.csv:14",
                                             "bad.csv:15:5"});
    CHECK(report.added == 0);
    CHECK(got(lab.reg.calibrations_elsewhere(got(lab.reg.gauges_with_serial("F-1")).at(0).id)).empty());
    CHECK(lab.raw()->row("SELECT seq FROM audit_head", "i")->integer(0) == before);
    CHECK(got(lab.reg.import_calibrations(technician, "serial,certificate\n", "h.csv")).faults.size() == 1);
    lab.inspected();
}

TEMPLATE_TEST_CASE("register: a field check enters the life of its gauge, and stays", "", OnSqlite,
                   OnPostgresql) {
    Laboratory<TestType> lab;
    got(lab.reg.import_gauges(technician, gauges, "g.csv"));
    FieldCheckEntry check;
    check.gauge = got(lab.reg.gauges_with_serial("F-1")).at(0).id;
    check.made_on = "2026-03-04";
    check.made_by = "T. Technician";
    check.method = "poured";
    check.tips = 98;
    check.volume_mL = 628.0;
    check.error_percent = -2.1;
    check.U_percent = 1.3;
    check.limit_percent = 5.0;
    check.verdict = "pass";
    got(lab.reg.add_field_check(technician, check));
    const Table life = life_table(got(lab.reg.life("F-1")));
    REQUIRE(life.rows.size() == 1);
    CHECK(cell(life, 0, "event") == "field check");
    CHECK(cell(life, 0, "detail") ==
          "poured, 98 tips, error -2.1 % ± 1.3 %, pass against ±5.0 %; by T. Technician");
    CHECK(got(lab.reg.gauges_with_serial("F-1")).at(0).last_calibrated_on.empty());
    check.made_on = "2026-03-07";  // nowhere today yet
    CHECK(refused(lab.reg.add_field_check(technician, check)) == FaultCode::inconsistent);
    CHECK_THROWS_AS(lab.raw()->run("UPDATE field_checks SET tips = 1"), Stop);
    CHECK_THROWS_AS(lab.raw()->run("DELETE FROM field_checks"), Stop);
    lab.inspected();
}

TEST_CASE("register: a register and a backup of schema version 1 are brought to today's") {
    const ScratchFolder folder;
    const std::string location = folder / "old";
    std::filesystem::create_directories(location);
    const std::string now = "2026-03-05T09:00:00Z";
    {
        const auto raw = Database::open_sqlite(location + "/register.sqlite", true);
        migrate(*raw, std::span(migrations()).first(1));
        CHECK(schema_version(*raw) == 1);
    }
    {
        Register reg = got(Register::open(location, now));
        got(reg.put_person({"T. Technician", now}, {0, "T. Technician", true, true, true, true}));
        got(reg.import_gauges(technician, gauges, "g.csv"));
        CHECK(got(reg.import_calibrations(technician, calibrations, "c.csv")).added == 3);
    }
    // A backup as version 1 wrote it: without the tables that came later.
    Laboratory<OnSqlite> lab;
    lab.certified("EX-1", "2026-03-05", 6.15);
    const std::string backups = folder / "backups";
    done(lab.reg.backup(backups, "2026-03-06T00:00:00Z"));
    const std::string made = backups + "/2026-03-06T000000Z";
    std::ifstream in(made + "/backup.txt");
    std::string list;
    for (std::string line; std::getline(in, line);) {
        if (line.starts_with("end ") || line.find("calibrations_elsewhere") != std::string::npos ||
            line.find("field_checks") != std::string::npos)
            continue;
        list += (line.starts_with("schema ") ? "schema 1" : line) + "\n";
    }
    std::filesystem::remove(made + "/tables/calibrations_elsewhere.jsonl");
    std::filesystem::remove(made + "/tables/field_checks.jsonl");
    std::ofstream(made + "/backup.txt", std::ios::trunc) << list << "end " << sha256_hex(list) << "\n";
    const std::string target = folder / "restored";
    done(Register::restore(backups, target, "2026-03-07T00:00:00Z"));
    Register restored = got(Register::open(target, "2026-03-07T00:00:00Z"));
    CHECK(got(restored.valid_certificates({})).size() == 1);
}
