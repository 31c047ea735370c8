#include "bench/descriptions/adjustment.hpp"
#include "tests/bench/descriptions/texts.hpp"

using namespace tipwright;
using namespace tipwright::bench;
using namespace tipwright::test;

TEST_CASE("a gauge file gives identity, and its measured rim goes before the kind's") {
    const auto read = parse_gauge({"my.toml", gauge_text}, {"kinds/twin.toml", kind_text});
    REQUIRE(read);
    CHECK(read->kind == "twin");
    CHECK(read->kind_title == "Twin bucket");
    CHECK(read->model == "M");
    CHECK(read->serial == "4711");
    CHECK(read->received_on == "2026-03-02");
    CHECK(read->customer.name == "C");
    CHECK_FALSE(read->invented);
    CHECK(read->gauge.nominal_tip_mm == 0.2);
    CHECK(read->gauge.catch_diameter_mm.value == 200.06);
    CHECK(read->gauge.catch_diameter_mm.u == 0.06);
    CHECK(read->gauge.compartments == 2);
    CHECK(read->gauge.inlet == calib::Inlet::straight);
    REQUIRE(read->gauge.contacts.size() == 2);
    CHECK_FALSE(read->gauge.contacts[0].normally_closed);
    CHECK(read->gauge.contacts[1].normally_closed);
    CHECK(read->gauge.debounce_s == 0.25);
    CHECK(read->gauge.max_intensity_mm_h == 500);
    REQUIRE(read->truth);
    CHECK(read->truth->movement_time_s == 0.45);
    CHECK(read->text.text == gauge_text);
    CHECK(read->kind_text.text == kind_text);
}

TEST_CASE("a kind may say what a turn of its stop screws brings") {
    CHECK_FALSE(parse_stop_screws({"twin.toml", kind_text})->mL_per_turn);
    const std::string with =
        kind_text +
        "\n[adjustment]\nmL_per_turn = 0.4\nmL_per_turn_u = 0.05\nmore = \"anticlockwise\"\n"
        "side_a = \"at the dab of paint\"\nside_up = \"B\"\n";
    const auto stated = parse_stop_screws({"twin.toml", with});
    REQUIRE(stated);
    REQUIRE(stated->mL_per_turn);
    CHECK(stated->mL_per_turn->value == 0.4);
    CHECK(stated->mL_per_turn->u == 0.05);
    CHECK(stated->clockwise_is_more == false);
    CHECK(stated->marks.a == "at the dab of paint");
    CHECK(stated->side_up == 'B');
    CHECK_FALSE(parse_gauge({}, {"twin.toml", changed(with, "anticlockwise", "left")}));
    CHECK_FALSE(parse_gauge({}, {"twin.toml", changed(with, "\"B\"", "\"C\"")}));
    CHECK(parse_gauge({}, {"twin.toml", with}));
    CHECK_FALSE(parse_gauge({}, {"twin.toml", changed(with, "mL_per_turn = 0.4", "mL_per_turn = -1")}));
    CHECK_FALSE(parse_gauge({}, {"twin.toml", changed(with, "mL_per_turn_u = 0.05\n", "")}));
}

TEST_CASE("a kind alone is a gauge without identity") {
    const auto read = parse_gauge({}, {"twin.toml", kind_text});
    REQUIRE(read);
    CHECK(read->kind == "twin");
    CHECK(read->serial.empty());
    CHECK(read->text.text.empty());
    CHECK(read->gauge.catch_diameter_mm.value == 200);
}

TEST_CASE("a gauge whose own rim was not measured says so, whatever its kind says of its diameter") {
    const std::string nominal = "nominal diameter of the kind, rim not measured";
    const std::string kind = changed(kind_text, "catch_diameter_u_mm",
                                     "catch_diameter_method = \"drawing 7\"\ncatch_diameter_u_mm");
    CHECK(parse_gauge({}, {"twin.toml", kind_text})->catch_diameter_method == nominal);
    CHECK(parse_gauge({}, {"twin.toml", kind})->catch_diameter_method == nominal + " (drawing 7)");
    // A diameter of its own with nothing said of how: the kind's words are not about it.
    CHECK(parse_gauge({"my.toml", gauge_text}, {"twin.toml", kind})->catch_diameter_method.empty());
    const auto measured = parse_gauge(
        {"my.toml", gauge_text + "catch_diameter_method = \"with a caliper\"\n"}, {"twin.toml", kind});
    REQUIRE(measured);
    CHECK(measured->catch_diameter_method == "with a caliper");
}

TEST_CASE("a gauge file may change contacts, virtual truth and everything else its kind says") {
    const auto read = parse_gauge(
        {"my.toml",
         gauge_text + "contacts = [\"normally open\"]\nnominal_tip_mm = 0.1\n[virtual]\nwetting_mL = 3\n"},
        {"twin.toml", kind_text});
    REQUIRE(read);
    CHECK(read->gauge.contacts.size() == 1);
    CHECK(read->gauge.nominal_tip_mm == 0.1);
    CHECK(read->gauge.debounce_s == 0.25);
    CHECK(read->truth->wetting_mL == 3);
    CHECK(read->truth->movement_time_s == 0.45);
}

TEST_CASE("a catch diameter in metres or centimetres is refused with what was probably meant") {
    const auto with = [](const char* value) {
        return kind_line(
            changed(kind_text, "catch_diameter_mm = 200", std::string("catch_diameter_mm = ") + value));
    };
    CHECK(with("0.2") ==
          "twin.toml:4:21: gauge.catch_diameter_mm is 0.2, must be 50 to 700 mm; did you mean 200 mm?");
    CHECK(with("20") ==
          "twin.toml:4:21: gauge.catch_diameter_mm is 20, must be 50 to 700 mm; did you mean 200 mm?");
    CHECK(with("-200") == "twin.toml:4:21: gauge.catch_diameter_mm is -200, must be 50 to 700 mm");
    CHECK(with("nan") == "twin.toml:4:21: gauge.catch_diameter_mm is nan, must be 50 to 700 mm");
    CHECK(with("inf") == "twin.toml:4:21: gauge.catch_diameter_mm is inf, must be 50 to 700 mm");
    CHECK(with("\"200\"") ==
          "twin.toml:4:21: gauge.catch_diameter_mm is \"200\", must be a number; write it without quotes");
    CHECK(with("true") == "twin.toml:4:21: gauge.catch_diameter_mm is true, must be a number");
    CHECK(gauge_line(changed(gauge_text, "200.06", "0.20006")) ==
          "my.toml:8:21: gauge.catch_diameter_mm is 0.20006, must be 50 to 700 mm; did you mean 200.06 mm?");
}

TEST_CASE("a name that is not known is refused with the nearest one that is, and before what then misses") {
    CHECK(kind_line(changed(kind_text, "nominal_tip_mm", "nominal_tip")) ==
          "twin.toml:3:1: \"gauge.nominal_tip\" is not known here; did you mean nominal_tip_mm?");
    CHECK(kind_line(kind_text + "colour = \"blue\"\n") ==
          "twin.toml:13:1: \"virtual.colour\" is not known here; remove it, or see templates/README.md for "
          "what "
          "may stand here");
    CHECK(gauge_line("serail = \"1\"\n" + changed(gauge_text, "serial = \"4711\"\n", "")) ==
          "my.toml:1:1: \"serail\" is not known here; did you mean serial?");
}

TEST_CASE("what misses in a gauge or kind is named with its place") {
    CHECK(kind_line(changed(kind_text, "nominal_tip_mm = 0.2\n", "")) ==
          "twin.toml:2:1: gauge.nominal_tip_mm is not given; add it to [gauge]");
    CHECK(kind_line("title = \"T\"\n") ==
          "twin.toml:1:1: [gauge] is not given; add this section; templates/README.md shows it");
    CHECK(gauge_line(changed(gauge_text, "serial = \"4711\"\n", "")) ==
          "my.toml:1:1: serial is not given; add it at the top of the file");
    CHECK(gauge_line(changed(gauge_text, "\"4711\"", "\" \"")) ==
          "my.toml:3:10: serial is \" \", must not be empty; write what stands on the certificate");
    CHECK(gauge_line(changed(gauge_text, "[customer]\nname = \"C\"", "[customer]\naddress = \"C\"")) ==
          "my.toml:5:1: customer.name is not given; add it to [customer]");
}

TEST_CASE("wrong types in a gauge or kind are refused") {
    CHECK(
        kind_line(changed(kind_text, "compartments = 2", "compartments = 2.0")) ==
        "twin.toml:6:16: gauge.compartments is 2, must be a whole number; write it without a decimal point");
    CHECK(kind_line(changed(kind_text, "compartments = 2", "compartments = 3")) ==
          "twin.toml:6:16: gauge.compartments is 3, must be 1 to 2");
    CHECK(kind_line(changed(kind_text, "\"straight\"", "\"strait\"")) ==
          "twin.toml:7:9: gauge.inlet is \"strait\", must be one of \"straight\", \"siphon\"");
    CHECK(kind_line(changed(kind_text, "[\"normally open\", \"normally closed\"]", "\"normally open\"")) ==
          "twin.toml:8:12: gauge.contacts is \"normally open\", must be a list; write it in brackets [ ]");
    CHECK(
        kind_line(changed(kind_text, "\"normally closed\"", "\"open\"")) ==
        "twin.toml:8:12: gauge.contacts holds \"open\", must hold \"normally open\" or \"normally closed\"");
    CHECK(kind_line(changed(kind_text, "\"normally closed\"", "7")) ==
          "twin.toml:8:30: gauge.contacts holds 7, must hold texts; put it in quotes");
    CHECK(kind_line(changed(kind_text, "[\"normally open\", \"normally closed\"]", "[]")) ==
          "twin.toml:8:12: contacts has 0 entries, must have one or two");
    CHECK(gauge_line(changed(gauge_text, "\"4711\"", "4711")) ==
          "my.toml:3:10: serial is 4711, must be a text; put it in quotes");
    CHECK(gauge_line("invented = \"yes\"\n" + gauge_text) ==
          "my.toml:1:12: invented is \"yes\", must be true or false; write it without quotes");
    CHECK(gauge_line(changed(gauge_text, "[customer]\nname = \"C\"\n", "customer = \"C\"\n")) ==
          "my.toml:5:12: customer is \"C\", must be a table; write it as a section [customer]");
    CHECK(gauge_line(changed(gauge_text, "\"M\"", "\"a\\nb\"")) ==
          "my.toml:2:9: model is \"a\\nb\", must be one line without control characters; separate parts by "
          "commas");
    CHECK(gauge_line(changed(gauge_text, "\"M\"", "\"" + std::string(401, 'm') + "\"")) ==
          "my.toml:2:9: model has 401 bytes, at most 400 fit on a certificate; shorten it");
}

TEST_CASE("dates that do not exist are refused") {
    CHECK(gauge_line(changed(gauge_text, "2026-03-02", "\"2026-02-30\"")) ==
          "my.toml:4:15: received_on is \"2026-02-30\", which is not a date; write year, month, day, for "
          "example "
          "2025-03-31");
    CHECK(gauge_line(changed(gauge_text, "2026-03-02", "\"02.03.2026\"")) ==
          "my.toml:4:15: received_on is \"02.03.2026\", which is not a date; write year, month, day, for "
          "example "
          "2025-03-31");
    CHECK(gauge_line(changed(gauge_text, "2026-03-02", "20260302")) ==
          "my.toml:4:15: received_on is 20260302, which is not a date; write year, month, day, for example "
          "2025-03-31");
    CHECK(gauge_line(changed(gauge_text, "2026-03-02", "2026-02-30")).starts_with("my.toml:4:"));
    CHECK(gauge_line(changed(gauge_text, "2026-03-02", "\"2024-02-29\"")) == "accepted");
}

TEST_CASE("values of a gauge that contradict each other are refused") {
    CHECK(kind_line(changed(kind_text, "\"straight\"", "\"siphon\"")) ==
          "twin.toml:7:9: a siphon inlet needs siphon_volume_mL; give the volume one emptying of the siphon "
          "delivers");
    CHECK(kind_line(changed(kind_text, "debounce_s", "siphon_volume_mL = 12\ndebounce_s")) ==
          "twin.toml:9:20: siphon_volume_mL is given, but the inlet is straight; set inlet = \"siphon\"");
    CHECK(kind_line(changed(kind_text, "debounce_s = 0.25", "debounce_s = 0.8")) ==
          "twin.toml:9:14: debounce_s is 0.8, but tips come every 1.44 s at max_intensity_mm_h; choose less "
          "than "
          "half of that");
    CHECK(kind_line(changed(kind_text, "catch_diameter_mm = 200\ncatch_diameter_u_mm = 0.15",
                            "catch_diameter_mm = 60\ncatch_diameter_u_mm = 6")) ==
          "twin.toml:5:23: catch_diameter_u_mm is 6, must be below 5 % of the diameter");
    CHECK(kind_line(changed(kind_text, "compartments = 2", "compartments = 1") + "a_excess_percent = 1\n") ==
          "twin.toml:13:20: a_excess_percent is 1, but a spoon has a single compartment; remove it");
    CHECK(kind_line(kind_text + "siphon_volume_mL = 12\n") ==
          "twin.toml:13:20: siphon_volume_mL is given, but the inlet is straight; remove it");
    CHECK(gauge_line(changed(gauge_text, "\"twin\"", "\"siphon-200\"")) ==
          "my.toml:1:8: kind is \"siphon-200\", but the kind given with it is \"twin\"");
    CHECK(kind_line(kind_text + "bounce_probability = 1.5\n") ==
          "twin.toml:13:22: virtual.bounce_probability is 1.5, must be 0 to 1");
}

TEST_CASE("a text that is no TOML, twice the same, or too large is refused") {
    CHECK(kind_line(changed(kind_text, "debounce_s = 0.25", "debounce_s = 0.25\ndebounce_s = 0.3")) ==
          "twin.toml:10:14: \"debounce_s\" is given twice; keep one of them");
    CHECK(kind_line(changed(kind_text, "[virtual]", "[gauge]")) ==
          "twin.toml:11:1: \"gauge\" is given twice; keep one of them");
    CHECK(kind_line("title = \"T\n").starts_with("twin.toml:1:"));
    CHECK(kind_line("title = 0,2\n").starts_with("twin.toml:1:10: this is not TOML: "));
    CHECK(kind_line(std::string("title = \"a\0b\"", 13)).starts_with("twin.toml:1:11: this is not TOML: "));
    CHECK(kind_line("title = \"\xff\"").starts_with("twin.toml:1:"));
    CHECK(kind_line(std::string(256 * 1024 + 1, ' ')) ==
          "twin.toml: the file has 262145 bytes, at most 262144 are read; descriptions are short; check that "
          "this "
          "is the right file");
    std::string deep = "a";
    for (int i = 0; i < 100000; ++i) deep += ".a";
    CHECK(kind_line(deep + " = 1") ==
          "twin.toml:1:66: keys, lists and tables inside each other are more than 32 deep; put texts in "
          "quotes");
    CHECK(kind_line(std::string(100000, '[')).starts_with("twin.toml:1:"));
}

TEST_CASE("TOML's own freedoms are no fault: BOM, CRLF, remarks, inline tables") {
    std::string crlf;
    for (const char c : kind_text) crlf += c == '\n' ? "\r\n" : std::string(1, c);
    CHECK(kind_line("\xEF\xBB\xBF" + crlf) == "accepted");
    CHECK(gauge_line(changed(gauge_text, "[customer]\nname = \"C\"",
                             "customer = { name = \"C\" } # inline")) == "accepted");
}
