#include "bench/program/results/field_check_view.hpp"

#include <cstdio>
#include <nlohmann/json.hpp>

#include "bench/program/shown.hpp"
#include "bench/program/terminal.hpp"
#include "calib/base/rounding.hpp"

namespace tipwright::program {

void print_field_check(const report::FieldCheckFacts& facts, const calib::FieldCheck& check) {
    const auto volume =
        calib::round_with_uncertainty(check.volume_mL.value, calib::expanded(check.volume_mL).U);
    const auto error = calib::round_with_uncertainty(check.error_percent.value, check.error_expanded.U);
    print_to(stdout, "Field check of gauge %s, %s: %d tips\n",
             facts.serial.empty() ? "(no serial)" : facts.serial.c_str(), facts.kind_title.c_str(),
             facts.tips);
    print_to(stdout, "Water through the gauge  %s mL ± %s mL\n", volume.value.c_str(),
             volume.uncertainty.c_str());
    print_to(stdout, "Depth, true / indicated  %s mm / %s mm\n", calib::fixed(check.depth_true_mm, 2).c_str(),
             calib::fixed(check.depth_indicated_mm, 2).c_str());
    if (check.intensity_mm_h)
        print_to(stdout, "Mean intensity           %s mm/h%s\n", calib::fixed(*check.intensity_mm_h, 1),
                 inches_shown() ? " (" + inches_per_hour(*check.intensity_mm_h) + " in/h)" : std::string());
    print_to(stdout, "Error of indication      %s %% ± %s %% (k = %s)\n", error.value.c_str(),
             error.uncertainty.c_str(), calib::fixed(check.error_expanded.k, 2).c_str());
    if (check.conformity) {
        const char* verdict = check.conformity->verdict == calib::Verdict::pass   ? "within"
                              : check.conformity->verdict == calib::Verdict::fail ? "outside"
                                                                                  : "undecided against";
        print_to(stdout, "Verdict                  %s ±%s %%, simple acceptance; wrong with probability %s\n",
                 verdict, calib::fixed(*facts.limit_percent, 1).c_str(),
                 calib::fixed(check.conformity->wrong_probability, 3).c_str());
    }
    if (check.en)
        print_to(stdout, "E_n                      %s against certificate %s of %s\n",
                 calib::fixed(*check.en, 2).c_str(), facts.last_certificate.c_str(),
                 facts.last_certificate_on.c_str());
    if (!facts.accepted_for.empty())
        print_to(stdout, "Too large for a gauge's error; kept because: %s\n", facts.accepted_for.c_str());
    for (const auto& remark : check.remarks)
        print_to(stdout, "Note: %s\n", calib::remark_text(remark).c_str());
}

nlohmann::ordered_json field_check_for_machines(const report::FieldCheckFacts& facts,
                                                const calib::FieldCheck& check) {
    nlohmann::ordered_json document = {{"ok", true},
                                       {"serial", facts.serial},
                                       {"made_on", facts.made_on},
                                       {"tips", facts.tips},
                                       {"volume_mL", check.volume_mL.value},
                                       {"depth_true_mm", check.depth_true_mm},
                                       {"depth_indicated_mm", check.depth_indicated_mm},
                                       {"error_percent", check.error_percent.value},
                                       {"error_U_percent", check.error_expanded.U},
                                       {"k", check.error_expanded.k}};
    if (check.intensity_mm_h) document["intensity_mm_h"] = *check.intensity_mm_h;
    if (check.conformity) {
        document["verdict"] = name_of(check.conformity->verdict);
        document["limit_percent"] = *facts.limit_percent;
        document["decision_rule"] = "simple acceptance";
        document["wrong_probability"] = check.conformity->wrong_probability;
    }
    if (check.en) {
        document["en"] = *check.en;
        document["against_certificate"] = facts.last_certificate;
    }
    document["hardly_credible"] = check.hardly_credible;
    if (!facts.accepted_for.empty()) document["accepted_for"] = facts.accepted_for;
    document["remarks"] = nlohmann::ordered_json::array();
    for (const auto& remark : check.remarks) document["remarks"].push_back(calib::remark_text(remark));
    return document;
}

}  // namespace tipwright::program
