#include <cmath>

#include "report/register/life_words.hpp"
#include "tests/report/register_fixture.hpp"

using namespace tipwright;
using namespace tipwright::report;
using namespace tipwright::test;

TEMPLATE_TEST_CASE("register: people enter first, and only those who may issue keep their list", "", OnSqlite,
                   OnPostgresql) {
    const ScratchFolder folder;
    const std::string location = TestType::location(folder);
    CHECK(refused(Register::open(location, "2026-01-01T00:00:00Z")) == FaultCode::file_missing);
    CHECK(refused(Register::open(location, "yesterday", true)) == FaultCode::bad_value);
    Register reg = got(Register::open(location, "2026-01-01T00:00:00Z", true));
    const Actor first{"A. Signatory", "2026-01-01T00:00:00Z"};
    CHECK(refused(reg.put_customer(first, {0, "X", "", "", {}})) == FaultCode::unknown_field);
    CHECK(refused(reg.put_person(first, {0, "Somebody Else", true, true, true, true})) ==
          FaultCode::not_permitted);
    const Id signatory_id = got(reg.put_person(first, {0, "A. Signatory", true, true, false, true}));
    REQUIRE(got(reg.people()).size() == 1);
    CHECK(got(reg.people())[0].may_issue);  // somebody has to be able to
    const Id other = got(reg.put_person(first, {0, "T. Technician", true, false, false, true}));
    CHECK(refused(reg.put_person({"T. Technician", "2026-01-01T00:00:00Z"},
                                 {0, "Friend", true, true, true, true})) == FaultCode::not_permitted);
    CHECK(refused(reg.put_person(first, {0, "T. Technician", true, true, true, true})) ==
          FaultCode::duplicate);
    CHECK(refused(reg.put_person(first, {signatory_id, "A. Signatory", true, true, false, true})) ==
          FaultCode::not_permitted);
    CHECK(refused(reg.put_person(first, {0, "", true, true, true, true})) == FaultCode::missing_field);
    CHECK(refused(reg.put_person(first, {0, "two\nlines", true, true, true, true})) == FaultCode::bad_value);
    CHECK(refused(reg.put_person(first, {0, "bad \xff utf", true, true, true, true})) ==
          FaultCode::bad_value);
    CHECK(refused(reg.put_person(first, {0, std::string(300, 'x'), true, true, true, true})) ==
          FaultCode::bad_value);
    CHECK(refused(reg.put_person(first, {77, "Nobody", true, true, true, true})) == FaultCode::unknown_field);
    got(reg.put_person(first, {other, "T. Technician", true, false, false, false}));
    CHECK(refused(reg.put_customer({"T. Technician", "2026-01-01T00:00:00Z"}, {0, "X", "", "", {}})) ==
          FaultCode::not_permitted);
}

TEMPLATE_TEST_CASE("register: serials are told apart as a person would, and never doubled by accident", "",
                   OnSqlite, OnPostgresql) {
    Laboratory<TestType> lab;
    GaugeEntry gauge;
    gauge.serial = "ab 12-7";
    gauge.model = "Example TB-200";
    gauge.kind = "siphon-200";
    gauge.nominal_tip_mm = 0.2;
    gauge.catch_diameter_mm = 199.93;
    gauge.catch_diameter_u_mm = 0.05;
    gauge.catch_method = "four diameters, caliper";
    gauge.contacts = "NO,NO";
    const Id id = got(lab.reg.put_gauge(technician, gauge));
    CHECK(refused(lab.reg.put_gauge(technician, gauge)) == FaultCode::duplicate);
    GaugeEntry again = gauge;
    again.serial = "AB12-7";
    again.model = "example tb-200";
    CHECK(refused(lab.reg.put_gauge(technician, again)) == FaultCode::duplicate);
    again.model = "Another maker's spoon";
    CHECK(refused(lab.reg.put_gauge(technician, again)) == FaultCode::duplicate);
    got(lab.reg.put_gauge(technician, again, true));
    const std::vector<GaugeEntry> found = got(lab.reg.gauges_with_serial("AB 12-7"));
    REQUIRE(found.size() == 2);
    CHECK(found[1].id == id);
    CHECK(found[1].catch_diameter_mm == 199.93);
    CHECK(found[1].catch_diameter_u_mm == 0.05);
    CHECK(found[1].catch_method == "four diameters, caliper");
    CHECK(got(lab.reg.gauges_with_serial("unknown")).empty());

    gauge.id = id;
    gauge.note = "new bird spikes";
    CHECK(got(lab.reg.put_gauge(technician, gauge)) == id);
    CHECK(got(lab.reg.gauge(id)).note == "new bird spikes");
    for (const auto& [change, code] : std::vector<std::pair<std::function<void(GaugeEntry&)>, FaultCode>>{
             {[](GaugeEntry& g) { g.catch_diameter_mm = 0.2; }, FaultCode::bad_value},  // metres
             {[](GaugeEntry& g) { g.catch_diameter_mm = std::nan(""); }, FaultCode::bad_value},
             {[](GaugeEntry& g) { g.nominal_tip_mm = -0.2; }, FaultCode::bad_value},
             {[](GaugeEntry& g) { g.in_service_on = "2026-02-30"; }, FaultCode::bad_value},
             {[](GaugeEntry& g) { g.customer = 99; }, FaultCode::unknown_field},
             {[](GaugeEntry& g) { g.model = ""; }, FaultCode::missing_field},
             {[](GaugeEntry& g) {
                  g.interval = AgreedInterval{12, ""};
              },
              FaultCode::missing_field},
             {[](GaugeEntry& g) {
                  g.interval = AgreedInterval{0, "x"};
              },
              FaultCode::bad_value}}) {
        GaugeEntry bad = gauge;
        change(bad);
        CHECK(refused(lab.reg.put_gauge(technician, bad)) == code);
    }
    lab.inspected();
}

TEMPLATE_TEST_CASE("register: a record enters what it names, once", "", OnSqlite, OnPostgresql) {
    Laboratory<TestType> lab;
    lab.entered(record_of("EX-1"));
    lab.entered(record_of("EX-2"));
    CHECK(got(lab.reg.customer("Imaginary Weather Network")).address == "7 Sample Street, 00000 Elsewhere");
    const GaugeEntry gauge = got(lab.reg.gauges_with_serial("ex-1")).at(0);
    CHECK(gauge.kind == "siphon-200");
    CHECK(gauge.contacts == "NO,NO");
    CHECK(gauge.station != 0);
    CHECK(gauge.nominal_tip_mm == 0.2);
    REQUIRE(got(lab.reg.instruments_with_serial("bal-01")).size() == 1);
    CHECK(got(lab.reg.instruments_with_serial("bal-01"))[0].role == "balance");

    Record bad = record_of("EX-1", "2026-03-03");
    bad.gauge.nominal_tip_mm = 0.1;
    CHECK(refused(lab.reg.enter_record(technician, bad, "B1")) == FaultCode::inconsistent);
    bad = record_of("EX-1", "2026-03-03");
    bad.identity.kind = "spoon-100";
    CHECK(refused(lab.reg.enter_record(technician, bad, "B1")) == FaultCode::inconsistent);
    // Within the expanded uncertainty of the difference of two determinations of the rim, and just not.
    bad = record_of("EX-1", "2026-03-03");
    const double apart = 2 * std::hypot(bad.gauge.catch_diameter_mm.u, *gauge.catch_diameter_u_mm);
    bad.gauge.catch_diameter_mm.value = *gauge.catch_diameter_mm + 1.01 * apart;
    CHECK(refused(lab.reg.enter_record(technician, bad, "B1")) == FaultCode::inconsistent);
    CHECK(
        lab.reg.check_run(bad, "B1", "2026-03-03").fault().line().find("catch diameter of 200.00 mm (U = ") !=
        std::string::npos);
    bad.gauge.catch_diameter_mm.value = *gauge.catch_diameter_mm - 0.99 * apart;
    done(lab.reg.check_run(bad, "B1", "2026-03-03"));
    lab.entered(bad);
    bad = record_of("EX-1", "2026-03-03");
    bad.identity.model = "Other model";
    CHECK(refused(lab.reg.enter_record(technician, bad, "B1")) == FaultCode::duplicate);
    bad = record_of("");
    CHECK(refused(lab.reg.enter_record(technician, bad, "B1")) == FaultCode::missing_field);
    bad = record_of("EX-1", "2026-03-03");
    bad.source_sha256 = "";
    CHECK(refused(lab.reg.enter_record(technician, bad, "B1")) == FaultCode::missing_field);
    bad = record_of("EX-1", "2026-03-03");
    bad.started_at = bad.ended_at = "";
    CHECK(refused(lab.reg.enter_record(technician, bad, "B1")) == FaultCode::missing_field);
    CHECK(refused(lab.reg.enter_record(technician, record_of("EX-1", "2026-04-01"), "B1")) ==
          FaultCode::inconsistent);
    // A table of measurements made elsewhere may name no kind: the gauge is kept as what the table calls it.
    Record unnamed = record_of("EX-3");
    unnamed.identity.kind.clear();
    unnamed.identity.kind_title = "two-compartment bucket";
    lab.entered(unnamed);
    CHECK(got(lab.reg.gauges_with_serial("EX-3")).at(0).kind == "two-compartment bucket");
    // Names that are long, in many scripts, or no UTF-8 at all are kept as far as they go.
    SampleOptions wish;
    wish.long_names = true;
    Record wild = sample_record(wish);
    wild.customer.name = std::string(500, 'x') + "\xff\xfe";
    wild.operator_name = "line\nbreak \xc3";
    got(lab.reg.enter_record(technician, wild, "B1"));
    // A letter that goes past the end of a name is left out whole.
    for (const std::string letter : {"\xc3\xa9", "\xe2\x82\xac", "\xf0\x9f\x98\x80"})
        for (std::size_t over = 1; over < letter.size(); ++over) {
            const std::string most(200 - over, 'x');
            Record cut = record_of("EX-" + std::to_string(letter.size()) + "-" + std::to_string(over));
            cut.customer.name = most + letter + " Weather Network";
            cut.operator_name = most + letter;
            lab.entered(cut);
            const auto kept = got(lab.reg.gauges_with_serial(cut.identity.serial)).at(0);
            CHECK(got(lab.reg.customer(most)).id == kept.customer);
        }
    lab.inspected();
}

TEMPLATE_TEST_CASE("register: a list of gauges is imported whole or told line by line", "", OnSqlite,
                   OnPostgresql) {
    Laboratory<TestType> lab;
    const std::string good =
        "serial;model;kind;catch_diameter_mm;customer;station;interval_months;interval_agreed;note\r\n"
        "G-1;Example TB-200;siphon-200;199,95;Imaginary Weather Network;Example Hill;24;contract 7;\"with; "
        "\"\"heater\"\"\"\r\n"
        "G-2;Example TB-200;siphon-200;;Imaginary Weather Network;Example Hill;;;\r\n"
        "\r\n"
        "G-3;Example SP-100;spoon-100;100,1;;;;;two\r\n";
    ImportReport report = got(lab.reg.import_gauges(technician, good, "list.csv"));
    for (const Fault& fault : report.faults) UNSCOPED_INFO(fault.line());
    CHECK(report.faults.empty());
    CHECK(report.added == 3);
    const GaugeEntry gauge = got(lab.reg.gauges_with_serial("G-1")).at(0);
    CHECK(gauge.catch_diameter_mm == 199.95);
    CHECK(gauge.note == "with; \"heater\"");
    REQUIRE(gauge.interval.has_value());
    CHECK(gauge.interval->months == 24);
    report = got(lab.reg.import_gauges(technician, good, "list.csv"));
    CHECK(report.unchanged == 3);
    report = got(lab.reg.import_gauges(
        technician, "serial,model,kind,note\nG-2,Example TB-200,siphon-200,moved\n", "l.csv"));
    CHECK(report.changed == 1);

    const std::string bad =
        "serial,model,kind,catch_diameter_mm,interval_months,interval_agreed,station\n"
        "N-1,M,siphon-200,0.2,,,\n"
        "N-2,M,siphon-200,twenty,,,\n"
        ",M,siphon-200,200,,,\n"
        "N-3,M,siphon-200,200,12,,\n"
        "N-4,M,siphon-200,200,,,Lone Hill\n"
        "N-5,M,siphon-200,200,,,\n"
        "N-5,M,siphon-200,200,,,\n"
        "N-6,M,siphon-200,200,,,,,\n"
        "N-7,M,,200,,,\n"
        "G-1,Other model,siphon-200,,,,\n";
    report = got(lab.reg.import_gauges(technician, bad, "bad.csv"));
    std::vector<std::string> places;
    for (const Fault& fault : report.faults) {
        places.push_back(fault.where);
        CHECK(fault.line().find('\n') == std::string::npos);
    }
    CHECK(places == std::vector<std::string>{"bad.csv:2:18", "bad.csv:3:18", "bad.csv:4:1", "bad.csv:5:25",
                                             "bad.csv:6", "bad.csv:8:1", "bad.csv:9", "bad.csv:10:7",
                                             "bad.csv:11:1"});
    CHECK(report.added == 0);
    CHECK(got(lab.reg.gauges_with_serial("N-5")).empty());

    CHECK(got(lab.reg.import_gauges(technician, "serial,model,colour,serial\n", "h.csv")).faults.size() == 3);
    CHECK(refused(lab.reg.import_gauges(technician, "", "h.csv")) == FaultCode::missing_field);
    CHECK(lab.reg.import_gauges(technician, "serial,model,kind\n\"G", "h.csv").fault().where == "h.csv:2:1");
    CHECK(lab.reg.import_gauges(technician, "serial,model,kind\n\"G\"x,a,b", "h.csv").fault().where ==
          "h.csv:2:4");
    lab.inspected();
}

TEMPLATE_TEST_CASE("register: a service order runs from receipt to certificate", "", OnSqlite, OnPostgresql) {
    Laboratory<TestType> lab;
    lab.certified("EX-1", "2026-03-05", 6.15);
    const Id gauge = got(lab.reg.gauges_with_serial("EX-1")).at(0).id;
    const std::string day = "2028-04-10";
    const Actor now = at(technician, day + "T09:00:00Z");
    const Id order =
        got(lab.reg.open_order(now, {0, gauge, "2028-04-03", "funnel dusty", "recalibrate", ""}));
    CHECK(refused(lab.reg.open_order(now, {0, gauge, "2028-04-03", "", "", ""})) == FaultCode::duplicate);
    CHECK(refused(lab.reg.add_finding(now, {order, "2028-04-01", "dust", ""})) == FaultCode::inconsistent);
    CHECK(refused(lab.reg.add_finding(now, {order, "2028-04-04", "", ""})) == FaultCode::missing_field);
    // What happened did not happen in days to come; east of Greenwich it is tomorrow already.
    CHECK(refused(lab.reg.add_finding(now, {order, "2028-04-12", "dust", ""})) == FaultCode::inconsistent);
    const Id balance = got(lab.reg.put_instrument(now, {0, "balance", "Spare", "BAL-09", ""}));
    InstrumentCalibration calibration{0, balance, "C-1", "2028-04-12", "2029-04-12", ""};
    CHECK(refused(lab.reg.put_calibration(now, calibration)) == FaultCode::inconsistent);
    calibration.calibrated_on = "2028-04-11";
    got(lab.reg.put_calibration(now, calibration));
    CHECK(refused(lab.reg.add_adjustment(now, {order, "2028-04-12", -0.5, {}, {}, {}, ""})) ==
          FaultCode::inconsistent);
    GaugeEntry later = got(lab.reg.gauge(gauge));
    later.in_service_on = "2028-04-12";
    CHECK(refused(lab.reg.put_gauge(now, later)) == FaultCode::inconsistent);
    CHECK(refused(lab.reg.add_finding(now, {77, "2028-04-04", "dust", ""})) == FaultCode::unknown_field);
    got(lab.reg.add_finding(now, {order, "2028-04-04", "funnel half blocked by dust", "cleaned"}));
    const Id found = lab.entered(record_of("EX-1", "2028-04-05", report::State::as_found, 6.35), day);
    CHECK(refused(lab.reg.add_adjustment(now, {order, "2028-04-06", 80.0, {}, {}, {}, ""})) ==
          FaultCode::bad_value);
    got(lab.reg.add_adjustment(now, {order, "2028-04-06", -0.5, -0.25, -0.12, -0.1, "both screws up"}));
    const Id left = lab.entered(record_of("EX-1", "2028-04-07", report::State::as_left, 6.2), day);
    Draft draft;
    draft.as_found = found;
    draft.as_left = left;
    draft.order = order;
    const Id id = got(lab.reg.draft(now, draft));
    CHECK(refused(lab.reg.close_order(now, order)) == FaultCode::not_permitted);
    done(lab.reg.mark_checked(at(checker, day + "T09:00:00Z"), id));
    const std::string number = lab.issued(id, day).number;
    done(lab.reg.close_order(now, order));
    CHECK(refused(lab.reg.close_order(now, order)) == FaultCode::not_permitted);

    // Volume per tip grew from 6.15 to 6.35 mL: the error moved by about 100 (6.15/6.35 - 1) = -3.15 %.
    const Certificate certificate = got(lab.reg.certificate(number));
    REQUIRE(certificate.drift.has_value());
    CHECK(certificate.drift->percent == Approx(-3.15).margin(0.15));
    CHECK(certificate.drift->since == "2026-03-05");
    CHECK(std::abs(certificate.drift->En) > 1);

    const Life events_of_it = got(lab.reg.life("ex-1"));
    const Table life = life_table(events_of_it);
    std::vector<std::string> events;
    for (const auto& row : life.rows) events.push_back(std::get<std::string>(row[3]));
    CHECK(events == std::vector<std::string>{"measured", "certificate", "received", "finding", "measured",
                                             "adjusted", "measured", "certificate"});
    CHECK(as_text(life).find("funnel half blocked by dust; cleaned") != std::string::npos);
    // How far it moved, where it moved most, and since when: numbers first, a sentence last.
    const LifeEvent& second = events_of_it.back();
    REQUIRE(second.parts.size() == 2);
    CHECK(second.parts[0].id == "as_found_and_left");
    const LifePart& moved = second.parts[1];
    CHECK(moved.id == "moved");
    CHECK(moved.numbers.at(0).value == certificate.drift->percent);
    CHECK(moved.numbers.at(1).value == certificate.drift->at_mm_h);
    CHECK(moved.names.at(0).second == "2026-03-05");
    CHECK(life_detail(second) == "as found and as left; moved " +
                                     calib::fixed(certificate.drift->percent, 2) + " % at " +
                                     calib::fixed(certificate.drift->at_mm_h, 1) + " mm/h since 2026-03-05");
    CHECK(refused(lab.reg.life("nothing")) == FaultCode::unknown_field);
    lab.inspected();
}
