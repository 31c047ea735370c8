// The small parts of the register that need no database.
#include <algorithm>
#include <catch2/catch.hpp>
#include <sstream>

#include "calib/base/text.hpp"
#include "calib/decision/drift.hpp"
#include "report/register/audit.hpp"
#include "report/register/connection.hpp"
#include "report/register/dates.hpp"
#include "report/register/kept_curve.hpp"
#include "report/register/narrow_table.hpp"
#include "report/register/stated_curve.hpp"
#include "report/register/table.hpp"
#include "tests/report/sample_record.hpp"

using namespace tipwright;
using namespace tipwright::report;

namespace {

// With false tips at a step: nothing is stated of it.
Record doubted(Record record, int step) {
    record = test::with_phantom_tips(std::move(record), step);
    state(record);
    return record;
}

}  // namespace

TEST_CASE("register: dates count days and months") {
    CHECK(day_number("1970-01-01") == 0);
    CHECK(day_number("2000-03-01") == 11017);  // 30 years, 7 leap days, 60 days: by hand
    CHECK(date_of_day(day_number("2031-12-31") + 1) == "2032-01-01");
    CHECK(add_months("2031-01-31", 1) == "2031-02-28");
    CHECK(add_months("2031-01-31", 13) == "2032-02-29");
    CHECK(add_months("2031-11-30", 2) == "2032-01-30");
    CHECK(years_between("2026-03-05", "2028-03-05") == Approx(2).margin(0.003));
    CHECK(second_number("1970-01-02T00:00:01Z") == 86401);
    CHECK(is_utc_time("2031-05-04T23:59:59Z"));
    for (const char* text : {"2031-05-04T24:00:00Z", "2031-05-04T23:60:00Z", "2031-05-04 23:00:00Z",
                             "2031-05-04T23:00:00", "2031-02-29T00:00:00Z", "2031-05-04T23:00:0xZ", ""})
        CHECK_FALSE(is_utc_time(text));
}

TEST_CASE("register: tables are shown as text, CSV and JSON") {
    Table table{{"serial", "drift_percent", "count", "note"}, {}, false};
    table.rows.push_back({std::string("Ä-1"), Table::Number{-1.005, 2}, std::int64_t{7}, std::monostate{}});
    table.rows.push_back(
        {std::string("B, \"2\""), Table::Number{12.5, 1}, std::int64_t{12}, std::string("line\nbreak")});
    CHECK(as_csv(table) ==
          "serial,drift_percent,count,note\nÄ-1,-1.01,7,\n\"B, \"\"2\"\"\",12.5,12,\"line\nbreak\"\n");
    CHECK(as_text(table) ==
          "serial  drift_percent  count  note\n"
          "Ä-1             -1.01      7\n"
          "B, \"2\"           12.5     12  line\\nbreak\n");
    CHECK(as_json(table).find("\"drift_percent\": -1.01,") != std::string::npos);
    CHECK(as_json(table).find("\"note\": null") != std::string::npos);
    CHECK(as_text({{"a"}, {}, true}) == "a\n(none)\n(more than are shown)\n");
    CHECK(as_json({{"a"}, {}, false}) == "[]\n");
}

TEST_CASE("register: to a terminal a row stays within its columns, wrapped where it is too long") {
    const Table table{{"due_on", "customer", "last_calibrated_on", "n"},
                      {{std::string("2031-05-04"), std::string("Wetterdienst Überall (invented)"),
                        std::string("2029-05-04"), std::int64_t{24}},
                       {std::string("2031-06-04"), std::string("Short"), std::monostate(), std::int64_t{7}}},
                      false};
    CHECK(as_text_within(table, 200) == as_text(table));
    CHECK(as_text_within(table, 46) ==
          "due_on      customer        last_           n\n"
          "                            calibrated_on\n"
          "2031-05-04  Wetterdienst    2029-05-04      24\n"
          "            Überall\n"
          "            (invented)\n"
          "2031-06-04  Short                            7\n");
    for (const std::size_t width : {25, 30, 40, 46, 60, 80, 120}) {
        std::istringstream lines(as_text_within(table, width));
        for (std::string line; std::getline(lines, line);)
            CHECK(code_point_count(line) <=
                  std::max<std::size_t>(width, 32));  // the longest word and its heading
    }
    CHECK(as_text_within(table, 36) ==
          "due_on              2031-05-04\n"
          "customer            Wetterdienst\n"
          "                    Überall\n"
          "                    (invented)\n"
          "last_calibrated_on  2029-05-04\n"
          "n                   24\n"
          "\n"
          "due_on              2031-06-04\n"
          "customer            Short\n"
          "n                   7\n");
    // No word is cut, and nothing goes on for ever.
    CHECK(as_text_within({{"a"}, {{std::string("one-very-long-word")}}, false}, 4) ==
          "a  one-very-long-word\n");
    CHECK(as_text_within({{"a_long_heading"}, {}, false}, 4) == "a_long_heading\n(none)\n");
}

TEST_CASE("register: an error curve is kept as text and read between its points") {
    const KeptCurve curve{{10, -1, 0.4}, {100, -3, 0.6}};
    CHECK(curve_text(curve) == "10.00 -1.000 0.400;100.00 -3.000 0.600");
    const KeptCurve back = curve_from_text(curve_text(curve));
    REQUIRE(back.size() == 2);
    CHECK(back[1].error_percent == -3);
    // Half-way in the logarithm: sqrt(10 * 100) = 31.6 mm/h.
    CHECK(at_intensity(curve, 31.6227766)->error_percent == Approx(-2));
    CHECK(at_intensity(curve, 104)->error_percent == -3);
    CHECK_FALSE(at_intensity(curve, 106).has_value());
    CHECK_FALSE(at_intensity(curve, 9.4).has_value());
    CHECK_FALSE(at_intensity({}, 10).has_value());
    CHECK_FALSE(at_intensity(curve, std::nan("")).has_value());
    CHECK(curve_from_text("").empty());
    CHECK(curve_from_text("1 2").empty());
    CHECK(kept_curve(test::sample_record()).size() == 3);
    test::SampleOptions still;
    still.no_duration = true;
    CHECK(kept_curve(test::sample_record(still)).empty());
    CHECK(kept_curve(doubted(test::sample_record(), 2)).size() == 2);
}

TEST_CASE("register: drift and its En are those that a comparison of the two records gives") {
    Record then = test::sample_record();
    then.started_at = "2026-03-05T08:00:00Z";
    then.ended_at = "2026-03-05T10:00:00Z";
    test::SampleOptions moved;
    moved.V0_mL = 6.25;
    Record now = test::sample_record(moved);
    now.started_at = "2027-03-05T08:00:00Z";
    now.ended_at = "2027-03-05T10:00:00Z";
    const auto drift = calib::largest_drift({{*stated_curve(then), *stated_curve(now), "2026-03-05"}});
    REQUIRE(drift.has_value());
    CHECK(drift->since == "2026-03-05");
    const auto compared = *calib::compare(*stated_curve(then), *stated_curve(now), {drift->at_mm_h});
    CHECK(drift->percent == Approx(compared[0].difference_percent.value));
    CHECK(drift->En == Approx(compared[0].en));
    // What both have in common takes no part: more than the two U apart would say.
    const double apart = compared[0].difference_percent.value /
                         std::hypot(calib::expanded(compared[0].first_percent, 0.95).U,
                                    calib::expanded(compared[0].second_percent, 0.95).U);
    CHECK(std::abs(drift->En) > 1.05 * std::abs(apart));
    // Where it moved most is a step that is doubted: nothing is said of that.
    now.evaluation.steps[1].error_percent.value -= 20;
    CHECK(calib::largest_drift({{*stated_curve(then), *stated_curve(now), ""}})->percent < -15);
    CHECK(calib::largest_drift({{*stated_curve(then), *stated_curve(doubted(now, 2)), ""}})->percent > -5);
    // Two years: what was found less what was left each time, added up.
    const auto two =
        calib::largest_drift({{*stated_curve(then), *stated_curve(test::sample_record(moved)), "2028"},
                              {*stated_curve(then), *stated_curve(test::sample_record(moved)), "2027"}});
    CHECK(two->since == "2027");
    CHECK(two->percent == Approx(2 * drift->percent).epsilon(0.01));
    test::SampleOptions high;
    high.intensities_mm_h = {300, 400};
    CHECK_FALSE(calib::largest_drift({{*stated_curve(then), *stated_curve(test::sample_record(high)), ""}})
                    .has_value());
    CHECK_FALSE(calib::largest_drift({}).has_value());
}

TEST_CASE("register: an audit entry's hash moves with every field and with the one before") {
    const AuditEntry entry{7, "2031-05-04T10:11:12Z", "A", "enter", "gauge", 3, "{}", "state", ""};
    const std::string hash = audit_hash("before", entry);
    CHECK(hash.size() == 44);
    CHECK(audit_hash("befor3", entry) != hash);
    const auto changed = [&](auto change) {
        AuditEntry other = entry;
        change(other);
        return audit_hash("before", other) != hash;
    };
    CHECK(changed([](AuditEntry& e) { e.seq = 8; }));
    CHECK(changed([](AuditEntry& e) { e.at.back() = 'z'; }));
    CHECK(changed([](AuditEntry& e) { e.person = "B"; }));
    CHECK(changed([](AuditEntry& e) { e.action = "change"; }));
    CHECK(changed([](AuditEntry& e) {
        e.subject = "gaug";
        e.action = "entere";
    }));
    CHECK(changed([](AuditEntry& e) { e.subject_id = 4; }));
    CHECK(changed([](AuditEntry& e) { e.detail = "{ }"; }));
    CHECK(changed([](AuditEntry& e) { e.state = "statf"; }));
}

TEST_CASE("register: connection strings are told from folders, and passwords kept out of messages") {
    for (const char* text : {"postgresql://u@h/d", "postgres://h", "host=h dbname=d", "dbname=d"})
        CHECK(is_postgresql(text));
    for (const char* text : {"register", "./a=b", "/srv/a=b", "data/x=y"}) CHECK_FALSE(is_postgresql(text));
    const Result<Connection> read =
        read_connection("host=db.example.org dbname=reg user=u password='s e\\'cret'");
    REQUIRE(read);
    CHECK(read->place == "postgresql db.example.org database reg");
    CHECK(read->secrets == std::vector<std::string>{"s e'cret"});
    CHECK(read->words.find("password='s e\\'cret'") != std::string::npos);
    const Result<Connection> bad = read_connection("host=h passwrd=secret");
    REQUIRE_FALSE(bad);
    CHECK(bad.fault().line().find("secret") == std::string::npos);
}
