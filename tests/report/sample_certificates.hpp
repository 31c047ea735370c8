// The certificates that tests draw: few and many steps, long names, static checks, every verdict, both
// states.
#pragma once

#include <optional>
#include <stdexcept>
#include <string>
#include <vector>

#include "report/certificate/certificate.hpp"
#include "tests/report/sample_record.hpp"

namespace tipwright::test {

struct SampleCertificate {
    std::string name;
    report::Record record;
    std::optional<report::Record> as_found;
    std::optional<report::SealMark> seal;
};

inline std::vector<SampleCertificate> sample_certificates() {
    std::vector<SampleCertificate> out;
    const auto add = [&](const std::string& name, report::Record record) -> SampleCertificate& {
        out.push_back({name, std::move(record), {}, {}});
        return out.back();
    };
    report::SealMark seal;
    seal.code.side = 57;
    for (int i = 0; i < 57 * 57; ++i) seal.code.dark.push_back((i * 7919) % 13 < 6);
    seal.caption = "Sealed 2026-03-05, key 3F9A 77C1";
    add("three_steps", sample_record()).seal = seal;

    SampleOptions wish;
    wish.intensities_mm_h = {2, 5, 10, 20, 50, 90, 130, 170, 200, 300, 400, 500};
    wish.all_candidates = true;
    wish.long_names = true;
    add("twelve_steps", sample_record(wish));

    wish = {};
    wish.no_duration = true;
    wish.intensities_mm_h = {0, 0, 0};
    add("static_checks", sample_record(wish));
    wish.intensities_mm_h = {0};
    wish.limit_percent = 0;
    add("one_static_check", sample_record(wish));

    wish = {};
    wish.V0_mL = 5.5;
    wish.intensities_mm_h = {20, 50, 90, 130, 200};
    wish.rule = calib::DecisionRule::conformance_probability;
    wish.chosen = calib::RateForm::table;
    wish.all_candidates = true;
    wish.origin = report::Origin::real_bench;
    wish.invented = false;
    report::Record draft = sample_record(wish);
    draft.number = "DRAFT";
    draft.authorised_by = "";
    draft.issued_on = "";
    add("failing_draft", std::move(draft));

    wish = {};
    wish.intensities_mm_h = {20, 50, 90, 130, 200};
    wish.rule = calib::DecisionRule::simple_acceptance;
    report::Record as_left = sample_record(wish);
    as_left.state = report::State::as_left;
    wish.V0_mL = 5.7;
    add("both_states", std::move(as_left)).as_found = sample_record(wish);

    wish = {};
    wish.all_candidates = true;
    wish.chosen = calib::RateForm::curve;
    report::Record many = sample_record(wish);
    auto& candidates = many.evaluation.model->candidates;
    for (std::size_t i = 0; i < 40; ++i) candidates.push_back(candidates[i % 4]);
    add("many_candidates", std::move(many));

    wish = {};
    wish.intensities_mm_h = {60};
    wish.chosen = calib::RateForm::constant;
    add("one_step", sample_record(wish));
    return out;
}

inline report::certificate::Words sample_words(const std::string& source_dir,
                                               const std::string& language = "en") {
    auto words = report::certificate::load_words(source_dir + "/templates/certificate/" + language + ".toml");
    if (!words) throw std::runtime_error(words.fault().line());
    return *words;
}

inline Result<std::string> draw(const SampleCertificate& sample, const report::certificate::Words& words,
                                report::Paper paper = report::Paper::a4) {
    report::CertificateOptions options;
    options.paper = paper;
    options.words = words;
    options.as_found = sample.as_found;
    options.seal = sample.seal;
    return report::draw_certificate(sample.record, options);
}

}  // namespace tipwright::test
