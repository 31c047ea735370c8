#include "tests/support/large_register.hpp"

#include <cstdio>
#include <cstdlib>

#include "report/register/database.hpp"
#include "report/register/migrations.hpp"
#include "report/register/register.hpp"
#include "report/register/rows.hpp"

namespace tipwright::test {

namespace {

constexpr const char* birth = "2026-01-01T00:00:00Z";

[[noreturn]] void give_up(const Fault& fault) {
    std::fprintf(stderr, "large register: %s\n", fault.line().c_str());
    std::exit(1);
}

// Every statement makes `count` certificates' worth of rows from i = 1 on.
std::string each_of(const std::string& count, const std::string& insert, const std::string& select) {
    return "WITH RECURSIVE n(i) AS (VALUES (1) UNION ALL SELECT i + 1 FROM n WHERE i < " + count + ") " +
           insert + " SELECT " + select + " FROM n";
}

void load(report::Database& db, long certificates) {
    const std::string all = std::to_string(certificates);
    const std::string gauges = std::to_string(certificates / 4);
    const std::string sha = "(substr(hex(randomblob(22)), 1, 43) || '=')";  // as long as base64
    // Gauge and day of certificate i; each gauge comes four times, some 900 days apart.
    const std::string gauge = "((i - 1) % " + gauges + " + 1)";
    const std::string day =
        "date('2027-01-01', '+' || ((i - 1) / " + gauges + " * 900 + " + gauge + " * 7919 % 890) || ' days')";
    const std::string bench = "(" + gauge + " % 4 + 1)";
    const std::string year = "CAST(strftime('%Y', " + day + ") AS INTEGER)";
    const std::string series = "((" + bench + " - 1) * 10 + " + year + " - 2027 + 1)";
    const std::string points =
        "'9.99 1.936 0.233;24.98 0.933 0.235;49.94 -0.728 0.207;99.90 -3.611 0.154;199.67 -8.942 0.131'";
    const auto run = [&](const std::string& sql) { db.run(sql); };
    run(each_of("2000",
                "INSERT INTO customers (id, name, address, contact, interval_months, interval_agreed)",
                "i, 'Customer ' || i || ' (invented)', 'Some street ' || i, 'c' || i || '@example', 24, "
                "'order ' || i"));
    run(each_of("10000", "INSERT INTO stations (id, customer_id, name, place)",
                "i, (i - 1) % 2000 + 1, 'Station ' || i, ''"));
    run(each_of(gauges,
                "INSERT INTO gauges (id, serial, serial_key, model, model_key, kind, nominal_tip_mm, "
                "catch_diameter_mm, catch_diameter_u_mm, catch_method, contacts, customer_id, station_id, "
                "in_service_on, interval_agreed, note, last_calibrated_on, due_on)",
                "i, printf('G-%07d', i), printf('G-%07d', i), 'Model ' || (i % 20), 'MODEL' || (i % 20), "
                "'kind-' || (i % "
                "5), 0.2, 200.03, 0.06, 'two diameters with a caliper', 'NO,NO', (i * 31 % 10000) % 2000 + "
                "1, i * 31 % "
                "10000 + 1, '', '', '', date('2034-05-25', '+' || (i * 7919 % 890) || ' days'), "
                "date('2036-05-25', '+' "
                "|| (i * 7919 % 890) || ' days')"));
    run(each_of("16", "INSERT INTO instruments (id, identity, role, description, serial, bench)",
                "i, 'R|S' || i, 'role ' || (i % 4), 'Instrument ' || i, 'S' || i, 'B' || ((i - 1) / 4 + 1)"));
    run(each_of(
        "160",
        "INSERT INTO calibrations (id, instrument_id, certificate, calibrated_on, due_on, traceability)",
        "i, (i - 1) / 10 + 1, 'C-' || i, (2027 + (i - 1) % 10) || '-01-01', '', ''"));
    run(each_of("40", "INSERT INTO number_series (id, bench, year)",
                "i, 'B' || ((i - 1) / 10 + 1), 2027 + (i - 1) % 10"));
    run(each_of(all,
                "INSERT INTO runs (id, gauge_id, bench, source_name, source_sha256, operator_name, "
                "started_at, ended_at)",
                "i, " + gauge + ", 'B' || " + bench + ", 'journal.twj', " + sha + ", 'T. Technician', " +
                    day + " || 'T08:14:00Z', " + day + " || 'T10:51:20Z'"));
    run(each_of(
        all,
        "INSERT INTO records (id, run_id, person_id, entered_at, state, complete, verdict, sha256, points)",
        "i, i, 1, " + day + " || 'T11:00:00Z', 'as_found', 1, 'pass', " + sha + ", " + points));
    run(each_of(
        all,
        "INSERT INTO certificates (id, kind, state, gauge_id, as_found_id, calibrated_on, drafted_by, "
        "drafted_at, checked_by, checked_at, issued_by, issued_at, series_id, sequence, fingerprint, key_id, "
        "signature, as_found_sha256, pdf_sha256, xml_sha256, drift_percent, drift_en, drift_at_mm_h, "
        "drift_since)",
        "i, 'original', 'issued', " + gauge + ", i, " + day + ", 1, " + day + " || 'T11:00:00Z', 2, " + day +
            " || 'T12:00:00Z', 1, " + day + " || 'T12:30:00Z', " + series + ", i, " + sha +
            ", '6a23cbeea4078ef4', substr(hex(randomblob(44)), 1, 88), " + sha + ", " + sha + ", " + sha +
            ", 0.123456, 0.42, 199.67, '2027-01-01'"));
    for (const char* name : {"correction.csv", "formula.txt"})
        run(each_of(all, "INSERT INTO certificate_documents (certificate_id, name, sha256)",
                    std::string("i, '") + name + "', " + sha));
    for (int role = 0; role < 4; ++role)
        run(each_of(all, "INSERT INTO certificate_calibrations (calibration_id, used_on, certificate_id)",
                    "((" + bench + " - 1) * 4 + " + std::to_string(role) + ") * 10 + " + year +
                        " - 2027 + 1, " + day + ", i"));
    // Four entries a certificate: record, draft, check, issue.
    run(each_of(std::to_string(4 * certificates),
                "INSERT INTO audit (seq, at, person, action, subject, subject_id, detail, state, hash)",
                "i, '2027-01-01T00:00:00Z', 'T. Technician', CASE i % 4 WHEN 0 THEN 'issue' WHEN 1 THEN "
                "'enter' WHEN 2 "
                "THEN 'draft' ELSE 'check' END, CASE i % 4 WHEN 1 THEN 'record' ELSE 'certificate' END, i / "
                "4 + 1, CASE "
                "i % 4 WHEN 0 THEN '{\"number\":\"B1-2026-00001\",\"sha256\":\"' || " +
                    sha +
                    " || '\"}' WHEN 1 THEN "
                    "'{\"run\":123456,\"gauge\":123456,\"bench\":\"B1\",\"source\":\"journal.twj\","
                    "\"source_sha256\":\"' || " +
                    sha + " || '\",\"sha256\":\"' || " + sha +
                    " || '\"}' WHEN 2 THEN '{\"as_found\":123456}' ELSE '{}' END, " + sha +
                    ", substr(hex(randomblob(22)), 1, 44)"));
    run("UPDATE audit_head SET seq = (SELECT max(seq) FROM audit), at = '2037-01-01T00:00:00Z', hash = "
        "(SELECT hash "
        "FROM audit ORDER BY seq DESC LIMIT 1)");
}

// What later versions made goes: their tables, and the note that they were there.
void take_back_to(report::Database& db, int schema_version) {
    const auto& shapes = report::all_shapes();
    for (auto shape = shapes.rbegin(); shape != shapes.rend(); ++shape)
        if ((*shape)->since > schema_version) db.run("DROP TABLE " + (*shape)->name);
    if (schema_version < 3) db.run("DROP INDEX audit_subject");
    db.run("DELETE FROM schema_versions WHERE version > :p1", {std::int64_t{schema_version}});
}

}  // namespace

void make_large_register(const std::string& location, long certificates, int schema_version) {
    const int version = schema_version == 0 ? report::migrations().back().version : schema_version;
    {
        auto reg = report::Register::open(location, birth, true);
        if (!reg) give_up(reg.fault());
        const report::Actor actor{"A. Signatory", birth};
        for (const report::Person& person : {report::Person{0, "A. Signatory", true, true, true, true},
                                             report::Person{0, "C. Checker", true, true, false, true}})
            if (const auto put = reg->put_person(actor, person); !put) give_up(put.fault());
    }
    try {
        const auto db = report::Database::open_sqlite(location + "/register.sqlite", false);
        for (const auto& row : db->rows("SELECT name FROM sqlite_master WHERE type = 'trigger'", "t"))
            db->run("DROP TRIGGER " + row.text(0));
        db->run("PRAGMA synchronous = OFF");
        db->begin_write();
        db->run("DELETE FROM audit");
        take_back_to(*db, version);
        load(*db, certificates);
        for (const auto& migration : report::migrations())
            if (migration.version <= version) report::apply(*db, migration, report::Part::guards);
        db->commit();
        db->row("PRAGMA wal_checkpoint(TRUNCATE)", "iii");
    } catch (const report::Stop& stop) {
        give_up(stop.fault);
    }
}

}  // namespace tipwright::test
