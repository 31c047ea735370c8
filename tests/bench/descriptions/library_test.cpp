#include <unistd.h>
#include <filesystem>
#include <fstream>
#include <regex>
#include <set>

#include "bench/descriptions/lanes.hpp"
#include "bench/instruments/profile.hpp"
#include "tests/bench/descriptions/texts.hpp"
#include "tests/support/paths.hpp"
#include "tests/support/source_files.hpp"

using namespace tipwright;
using namespace tipwright::bench;
using namespace tipwright::test;
namespace fs = std::filesystem;

namespace {

// A folder of its own for one test, removed at its end.
struct Folder {
    fs::path path =
        tipwright::test::scratch_dir() / ("descriptions_library_test_" + std::to_string(::getpid()));
    Folder() {
        fs::remove_all(path);
        fs::create_directories(path);
    }
    ~Folder() { fs::remove_all(path); }
    std::string write(const std::string& name, const std::string& text) const {
        fs::create_directories((path / name).parent_path());
        std::ofstream(path / name, std::ios::binary) << text;
        return (path / name).string();
    }
};

// Names of the templates of a kind, each of which loads.
template <class Load>
std::set<std::string> names(TemplateKind kind, const Load& load) {
    std::set<std::string> out;
    const auto list = list_templates(kind, templates, [&](const std::string& file) -> Result<std::string> {
        const auto loaded = load(file, templates);
        if (!loaded) return loaded.fault();
        return std::string("loaded");
    });
    REQUIRE(list);
    for (const TemplateEntry& entry : *list) {
        INFO(entry.name << ": " << (entry.fault ? entry.fault->line() : ""));
        CHECK_FALSE(entry.fault);
        CHECK(entry.title == "loaded");
        out.insert(entry.name);
    }
    return out;
}

}  // namespace

TEST_CASE("every template loads") {
    const auto kinds = names(TemplateKind::gauge_kind, load_gauge);
    for (const char* kind : {"bucket-150", "bucket-200-twin", "siphon-200", "magnet-spoon-160", "spoon-100"})
        CHECK(kinds.count(kind) == 1);
    CHECK(names(TemplateKind::gauge, load_gauge).size() >= 5);
    const auto plans = names(TemplateKind::plan, load_plan);
    for (const char* plan :
         {"three-point-check", "five-point-as-found", "wmo-laboratory", "extended-500", "ten-rate"})
        CHECK(plans.count(plan) == 1);
    CHECK(names(TemplateKind::limits, load_limits).size() >= 4);
    CHECK(names(TemplateKind::bench, load_bench).count("virtual-bench") == 1);
    CHECK(names(TemplateKind::profile, load_profile).count("generic-pump-ascii") == 1);
    CHECK(names(TemplateKind::lanes, load_lanes).count("demo-lanes") == 1);
}

TEST_CASE("gauge kinds differ as their mechanisms do, and each can be tried on a virtual bench") {
    for (const std::string& name : names(TemplateKind::gauge_kind, load_gauge)) {
        INFO(name);
        CHECK(load_gauge(name, templates)->truth);
    }

    const auto kind = [](const char* name) {
        const auto read = load_gauge(name, templates);
        REQUIRE(read);
        CHECK(read->kind == name);
        CHECK(read->serial.empty());
        REQUIRE(read->truth);
        CHECK(read->truth->movement_time_s >= 0.3);
        CHECK(read->truth->movement_time_s <= 0.5);
        return *read;
    };
    CHECK(kind("bucket-150").gauge.contacts.size() == 1);
    CHECK(kind("bucket-150").gauge.catch_diameter_mm.value == 150);
    CHECK(kind("bucket-200-twin").gauge.contacts.size() == 2);
    CHECK(kind("bucket-200-twin").gauge.inlet == calib::Inlet::straight);
    CHECK(kind("siphon-200").gauge.inlet == calib::Inlet::siphon);
    CHECK(kind("siphon-200").gauge.siphon_volume_mL > 0);
    const auto spoon = kind("magnet-spoon-160");
    CHECK(spoon.gauge.compartments == 1);
    CHECK(spoon.gauge.nominal_tip_mm == 0.1);
    REQUIRE(spoon.gauge.contacts.size() == 2);
    CHECK(spoon.gauge.contacts[0].normally_closed != spoon.gauge.contacts[1].normally_closed);
    CHECK(spoon.truth->movement_growth_s2_mL > 0);
    CHECK(kind("spoon-100").gauge.compartments == 1);
    CHECK(kind("spoon-100").gauge.catch_diameter_mm.value == 100);
}

TEST_CASE("every name that a gauge kind uses stands in the templates' README") {
    const std::string readme = tipwright::test::content_of(fs::path(templates) / "README.md");
    static const std::regex name("\n([A-Za-z][A-Za-z0-9_]*) = ");
    int seen = 0;
    for (const std::string& kind : names(TemplateKind::gauge_kind, load_gauge)) {
        const std::string text = load_gauge(kind, templates)->kind_text.text;
        for (std::sregex_iterator at(text.begin(), text.end(), name), end; at != end; ++at) {
            ++seen;
            INFO(kind << ": " << (*at)[1]);
            CHECK(readme.find("`" + std::string((*at)[1]) + "`") != std::string::npos);
        }
    }
    CHECK(seen > 100);
}

TEST_CASE("what was found of a bench lies beside it, and is offered as none") {
    const Folder folder;
    folder.write("benches/mine.toml", "");
    folder.write("benches/mine.checks.toml", "");
    const auto list = list_templates(TemplateKind::bench, folder.path,
                                     [](const std::string&) -> Result<std::string> { return std::string(); });
    REQUIRE(list);
    REQUIRE(list->size() == 1);
    CHECK(list->front().name == "mine");
}

TEST_CASE("every demonstration gauge and bench says that it is invented, and its kind is there") {
    const auto gauges = names(TemplateKind::gauge, load_gauge);
    std::set<std::string> kinds;
    for (const std::string& name : gauges) {
        const auto read = load_gauge(name, templates);
        REQUIRE(read);
        CHECK(read->invented);
        CHECK(read->customer.name.find("(invented)") != std::string::npos);
        CHECK(read->text.name == "gauges/" + name + ".toml");
        CHECK(read->kind_text.name == "gauge_kinds/" + read->kind + ".toml");
        kinds.insert(read->kind);
    }
    // Each kind has one to try it with.
    CHECK(kinds == names(TemplateKind::gauge_kind, load_gauge));
    for (const std::string& name : names(TemplateKind::bench, load_bench))
        CHECK(load_bench(name, templates)->invented);
}

TEST_CASE("every gauge kind can go through every plan on the virtual bench") {
    const auto bench = load_bench("virtual-bench", templates);
    REQUIRE(bench);
    const auto plans = names(TemplateKind::plan, load_plan);
    for (const std::string& kind : names(TemplateKind::gauge_kind, load_gauge))
        for (const std::string& plan : plans) {
            const auto fits =
                check_together(*load_gauge(kind, templates), *load_plan(plan, templates), *bench);
            INFO(kind << " " << plan << ": " << (fits ? "" : fits.fault().line()));
            CHECK(fits);
        }
}

TEST_CASE(
    "ten rates cover the published range, and their tips need less than 100 minutes with a 0.2 mm gauge") {
    const auto read = load_plan("ten-rate", templates);
    REQUIRE(read);
    REQUIRE(read->plan.steps.size() == 10);
    // Humphrey et al. 1997, J. Atmos. Oceanic Technol. 14, 1513, abstract: 10 rates, 6 to 254 mm/h.
    CHECK(read->plan.steps.front().intensity_mm_h == 6);
    CHECK(read->plan.steps.back().intensity_mm_h == 254);
    double minutes = 0;
    for (const calib::PlanStep& step : read->plan.steps)
        minutes += (step.min_tips + read->plan.settle_tips) * 720 / step.intensity_mm_h / 60;
    CHECK(minutes < 100);
}

TEST_CASE(
    "limits nobody compared with their source make the verdict provisional, in words a customer may read") {
    for (const char* limits :
         {"wmo-no8-laboratory", "en17277-class-a", "en17277-class-b", "en17277-class-c"}) {
        const auto read = load_limits(limits, templates);
        REQUIRE(read);
        CHECK_FALSE(read->confirmed);
        CHECK(read->source.find("from memory") == std::string::npos);
    }
    const auto plan = load_plan("wmo-laboratory", templates);
    CHECK_FALSE(plan->plan.limits.confirmed);
    CHECK(plan->plan.name.find("from memory") == std::string::npos);
}

TEST_CASE("a plan that names a limits file carries its text, and reads the same without the file") {
    const auto loaded = load_plan("wmo-laboratory", templates);
    REQUIRE(loaded);
    REQUIRE(loaded->plan.limits.rows.size() == 2);
    CHECK(loaded->plan.limits.rows[0].low_percent == -5);
    CHECK(loaded->plan.limits.rows[1].high_percent == 2);
    const auto again = parse_plan(loaded->text);
    REQUIRE(again);
    CHECK(again->plan.limits.name == loaded->plan.limits.name);
    CHECK(again->plan.limits.rows.size() == 2);
    CHECK(again->plan.steps.size() == loaded->plan.steps.size());
    CHECK(loaded->text.text.find("# limits = \"wmo-no8-laboratory\"") != std::string::npos);
}

TEST_CASE("gauge, kind, plan and limits may be files, and name each other by file") {
    const Folder folder;
    folder.write("kinds/mine.toml", kind_text);
    const std::string gauge =
        folder.write("mine.toml", changed(gauge_text, "\"twin\"", "\"kinds/mine.toml\""));
    const auto read = load_gauge(gauge, templates);
    REQUIRE(read);
    CHECK(read->kind == "mine");
    CHECK(read->serial == "4711");

    const std::string plain = plan_text.substr(0, plan_text.find("[limits]"));
    folder.write("house.toml", plan_text.substr(plan_text.find("[limits]"),
                                                plan_text.find("[decision]") - plan_text.find("[limits]")));
    const std::string plan = folder.write("plan.toml", "limits = \"house.toml\"\n" + plain);
    const auto with_limits = load_plan(plan, templates);
    REQUIRE(with_limits);
    CHECK(with_limits->plan.limits.rows.size() == 2);

    folder.write("house.toml", "[limits]\nname = \"x\"\nsource = \"y\"\n");
    const auto spoilt = load_plan(plan, templates);
    REQUIRE_FALSE(spoilt);
    CHECK(spoilt.fault().line() ==
          (folder.path / "house.toml").string() +
              ":1:1: the limits have no row; add a [[limits.row]] with from_mm_h, to_mm_h, low_percent and "
              "high_percent");
}

TEST_CASE("a fault in a file names the file as it was given") {
    const Folder folder;
    const std::string file = folder.write("bad.toml", "kind = \"siphon-200\"\nmodel = 7\n");
    CHECK(load_gauge(file, templates).fault().line() ==
          file + ":2:9: model is 7, must be a text; put it in quotes");
    const std::string kindless = folder.write("kindless.toml", "serial = \"7\"\n");
    CHECK(load_gauge(kindless, templates).fault().line() ==
          kindless +
              ":1:1: kind is not given; add for example kind = \"bucket-200-twin\" at the top of the file");
    const std::string stranger = folder.write("stranger.toml", "kind = \"siphon-20\"\n");
    std::string every;
    for (const std::string& name : names(TemplateKind::gauge_kind, load_gauge))
        every += (every.empty() ? "" : ", ") + name;
    CHECK(load_gauge(stranger, templates).fault().line() ==
          stranger +
              ": \"siphon-20\" is neither a file nor the name of a gauge kind; did you mean siphon-200? "
              "Otherwise "
              "give a file, or one of: " +
              every);
    const std::string large = folder.write("large.toml", std::string(300 * 1024, '#'));
    CHECK(load_plan(large, templates).fault().code == FaultCode::file_too_large);
}

TEST_CASE("a name that is neither file nor template lists the names there are") {
    CHECK(load_bench("no-such", templates).fault().line() ==
          "\"no-such\" is neither a file nor the name of a bench; give a file, or one of: serial-bench, "
          "tcp-bench, "
          "virtual-bench");
    CHECK(load_bench("virtual", templates).fault().remedy.starts_with("did you mean virtual-bench?"));
    const Fault gauge = load_gauge("no-such-thing", templates).fault();
    CHECK(gauge.code == FaultCode::file_missing);
    CHECK(gauge.remedy.find("demo-siphon-200") != std::string::npos);
    CHECK(gauge.remedy.find("magnet-spoon-160") != std::string::npos);
    CHECK(load_plan("ten-rates", templates).fault().remedy.starts_with("did you mean ten-rate?"));
    CHECK_FALSE(load_plan("", templates));
    CHECK_FALSE(load_plan("../plans/ten-rate", templates));
    CHECK_FALSE(load_plan(templates, templates));
    CHECK(load_plan("x", "/nowhere").fault().line() ==
          "\"x\" is neither a file nor the name of a plan; no templates were found in the templates folder");
    CHECK(load_profile("x", "/nowhere").fault().what ==
          "\"x\" is neither a file nor the name of an instrument profile");
    CHECK(list_templates(TemplateKind::plan, "/nowhere", {}).fault().line() ==
          "/nowhere/plans: there is no such folder; give the folder of the templates");
}

TEST_CASE("a plan that a gauge cannot go through on a bench is refused before water runs") {
    const auto bench = load_bench("virtual-bench", templates);
    const auto gauge = load_gauge("bucket-200-twin", templates);
    const auto refusal = [&](const std::string& step) {
        const auto plan = parse_plan({"p.toml", "title = \"T\"\ntarget_U_percent = 1\n[[step]]\n" + step});
        REQUIRE(plan);
        const auto fits = check_together(*gauge, *plan, *bench);
        return fits ? std::string("accepted") : fits.fault().line();
    };
    CHECK(refusal("intensity_mm_h = 600\nmin_tips = 40\ntime_limit_s = 600") ==
          "p.toml, step 1: 600 mm/h on this gauge is 314.2 mL/min, the bench delivers at most 300; leave the "
          "step "
          "out, or use a larger pump tube");
    CHECK(refusal("intensity_mm_h = 200\nmin_tips = 400\ntime_limit_s = 6000") ==
          "p.toml, step 1: 400 tips of this gauge, with half as much again for what runs beside them, are "
          "3770 mL, the vessel holds 2500 g; ask for at most 264 tips, or use a larger vessel");
    CHECK(refusal("intensity_mm_h = 200\nmin_tips = 264\ntime_limit_s = 6000") == "accepted");
    CHECK(refusal("intensity_mm_h = 200\nmin_tips = 266\ntime_limit_s = 6000") != "accepted");
    CHECK(refusal("intensity_mm_h = 2\nmin_tips = 20\ntime_limit_s = 3600") ==
          "p.toml, step 1: 20 tips at 2 mm/h need 7200 s, the step's time limit is 3600 s; raise "
          "time_limit_s, or "
          "ask for fewer tips");
    CHECK(refusal("intensity_mm_h = 200\nmin_tips = 40\ntime_limit_s = 600") == "accepted");
}
