#include "tests/bench/descriptions/texts.hpp"

using namespace tipwright;
using namespace tipwright::bench;
using namespace tipwright::test;

TEST_CASE("a bench is read with instruments, metrology and truth") {
    const auto read = parse_bench({"bench.toml", bench_text});
    REQUIRE(read);
    CHECK(read->title == "Bench");
    CHECK(read->laboratory.name == "L");
    CHECK(read->vessel_capacity_g == 2500);
    CHECK_FALSE(read->has_drain_valve);
    CHECK(read->max_flow_mL_min == 300);
    REQUIRE(read->instruments.size() == 4);
    CHECK(read->instruments[0].role == "balance");
    CHECK(read->instruments[0].calibrated_on == "2026-02-10");
    CHECK(read->instruments[0].due_on == "2027-02-10");
    CHECK(read->instruments[1].link == "tcp 192.0.2.10:4001");
    CHECK(read->metrology.evaporation_g_h.value == 0.15);
    CHECK(read->metrology.evaporation_g_h.u == 0.04);
    CHECK(read->metrology.evaporation_g_h.dof == calib::infinite_dof);
    CHECK(read->metrology.balance.capacity_g == 4100);
    CHECK(read->metrology.balance.calibration_relative_u == 5e-6);
    CHECK(read->metrology.relative_humidity_u_percent == 3);
    REQUIRE(read->truth);
    CHECK(read->truth->water_temperature_C == 20.5);
}

TEST_CASE("values of a bench that cannot be true are refused") {
    CHECK(bench_line(changed(bench_text, "water_temperature_C = 20.5", "water_temperature_C = 51")) ==
          "bench.toml:52:23: virtual.water_temperature_C is 51, must be 0 to 50 degC");
    CHECK(bench_line(changed(bench_text, "water_temperature_C = 20.5", "water_temperature_C = -0.1")) ==
          "bench.toml:52:23: virtual.water_temperature_C is -0.1, must be 0 to 50 degC");
    CHECK(bench_line(changed(bench_text, "water_temperature_C = 20.5", "water_temperature_C = nan")) ==
          "bench.toml:52:23: virtual.water_temperature_C is nan, must be 0 to 50 degC");
    CHECK(bench_line(changed(bench_text, "residual_u_g = 0.02", "residual_u_g = -0.02")) ==
          "bench.toml:33:16: metrology.residual_u_g is -0.02, must be 0 to 5 g");
    CHECK(bench_line(changed(bench_text, "residual_u_g = 0.02\n", "")) ==
          "bench.toml:30:1: metrology.residual_u_g is not given; add it to [metrology]");
    CHECK(bench_line(changed(bench_text, "resolution_g = 0.01\n", "")) ==
          "bench.toml:42:1: metrology.balance.resolution_g is not given; add it to [metrology.balance]");
    CHECK(bench_line(changed(bench_text, "capacity_g = 2500", "capacity_g = 4000")) ==
          "bench.toml:5:14: capacity_g is 4000, but vessel and water must stay within the balance's 4100 g; "
          "lower "
          "it");
    CHECK(bench_line(changed(bench_text, "max_flow_mL_min = 300", "max_flow_mL_min = 401")) ==
          "bench.toml:7:19: max_flow_mL_min is 401, but the virtual pump delivers at most 400; lower it");
    CHECK(bench_line(changed(bench_text, "capacity_g = 2500", "capacity_g = 2500\ndrain_valve = \"yes\"")) ==
          "bench.toml:6:15: vessel.drain_valve is \"yes\", must be true or false; write it without quotes");
}

TEST_CASE("instruments that cannot be used are refused") {
    CHECK(bench_line(changed(bench_text, "role = \"pump\"", "role = \"balance\"")) ==
          "bench.toml:16:8: a second balance is given; a bench has one of each role");
    CHECK(bench_line(changed(bench_text,
                             "[[instrument]]\nrole = \"pump\"\nprofile = \"p\"\nlink = \"tcp "
                             "192.0.2.10:4001\"\ndescription = \"d\"\n",
                             "")) ==
          "bench.toml:8:1: no pump is given; add an [[instrument]] with role = \"pump\"");
    CHECK(bench_line(changed(bench_text, "role = \"pump\"", "role = \"pomp\"")) ==
          "bench.toml:16:8: instrument.role is \"pomp\", must be one of \"balance\", \"pump\", \"counter\", "
          "\"climate\"");
    const std::string remedy =
        "; write \"serial /dev/ttyUSB0\", \"serial usb:SERIALNUMBER\", \"tcp HOST:PORT\" or \"pty "
        "/dev/pts/3\"; of a "
        "virtual bench \"virtual\"";
    for (const char* link : {"tcp 192.0.2.10", "tcp 192.0.2.10:0", "tcp 192.0.2.10:70000", "tcp :4001",
                             "serial", "serial ", "usb 1", "tcp a b:1", "tcp a:1x", "tcp a:b:1"})
        CHECK(bench_line(changed(bench_text, "tcp 192.0.2.10:4001", link)) ==
              "bench.toml:18:8: invalid link \"" + std::string(link) + "\"" + remedy);
    CHECK(bench_line(changed(bench_text, "[virtual]\nwater_temperature_C = 20.5\n", "")) ==
          "bench.toml:28:8: link is \"virtual\", but the bench has no [virtual] table; give the instrument's "
          "real "
          "link, or add [virtual]");
    std::string twice(bench_text);
    const std::size_t other = twice.find("link = \"virtual\"");
    REQUIRE(other != std::string::npos);
    twice.replace(other, 16, "link = \"tcp 192.0.2.10:4001\"");
    CHECK(bench_line(twice).find("is on the link of the ") != std::string::npos);
    CHECK(bench_line(changed(bench_text, "due_on = 2027-02-10", "due_on = 2025-02-10")) ==
          "bench.toml:14:10: due_on 2025-02-10 is before calibrated_on 2026-02-10; check both dates");
    CHECK(bench_line(changed(bench_text, "due_on = 2027-02-10", "due_on = \"soon\"")) ==
          "bench.toml:14:10: instrument.due_on is \"soon\", which is not a date; write year, month, day, for "
          "example "
          "2025-03-31");
    CHECK(bench_line(changed(bench_text, "description = \"d\"", "descripton = \"d\"")) ==
          "bench.toml:12:1: \"instrument.descripton\" is not known here; did you mean description?");
}

TEST_CASE("what is read by hand has an identity, no link") {
    const auto with = [](const std::string& lines) {
        return changed(bench_text, "[metrology]", "[[hand_instrument]]\n" + lines + "\n[metrology]");
    };
    const auto read = parse_bench(
        {"bench.toml",
         with("role = \"caliper\"\ndescription = \"c\"\ncertificate = \"C-1\"\ndue_on = 2028-01-15")});
    REQUIRE(read);
    CHECK(read->instruments.size() == 4);
    REQUIRE(read->hand_instruments.size() == 1);
    CHECK(read->hand_instruments[0].role == "caliper");
    CHECK(read->hand_instruments[0].due_on == "2028-01-15");
    CHECK(bench_line(with("role = \"ruler\"\ndescription = \"c\"")).find("one of \"caliper\"") !=
          std::string::npos);
    CHECK(bench_line(with("role = \"caliper\"\ndescription = \"c\"\nlink = \"virtual\""))
              .find("\"hand_instrument.link\" is not known here") != std::string::npos);
}

TEST_CASE("interlocks are read, have defaults, and must make sense") {
    const auto plain = parse_bench({"bench.toml", bench_text});
    REQUIRE(plain);
    CHECK(plain->limits.run_h == 24);
    CHECK(plain->limits.rise_g_min == 450);
    const auto with = [](const std::string& limits) {
        return changed(bench_text, "[virtual]", "[limits]\n" + limits + "\n[virtual]");
    };
    const auto read =
        parse_bench({"bench.toml", with("run_h = 3\nrise_g_min = 300\nfall_g = 2\nhang_s = 1")});
    REQUIRE(read);
    CHECK(read->limits.run_h == 3);
    CHECK(read->limits.rise_g_min == 300);
    CHECK(read->limits.fall_g == 2);
    CHECK(read->limits.hang_s == 1);
    CHECK(bench_line(with("run_h = nan")).find("limits.run_h is nan, must be 0.1 to 240 h") !=
          std::string::npos);
    CHECK(bench_line(with("hang_s = 0.1")).find("limits.hang_s is 0.1, must be 0.5 to 30 s") !=
          std::string::npos);
    const std::string low = bench_line(with("rise_g_min = 200"));
    CHECK(low.find("rise_g_min is 200, below the pump's max_flow_mL_min of 300") != std::string::npos);
    CHECK(low.find(":14: ") != std::string::npos);
}
