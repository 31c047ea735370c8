#include "bench/program/results/results.hpp"

#include <unistd.h>

#include <algorithm>
#include <cstdio>
#include <nlohmann/json.hpp>

#include "bench/program/results/step_table.hpp"
#include "bench/program/sentence.hpp"
#include "bench/program/terminal.hpp"
#include "calib/base/rounding.hpp"
#include "calib/rate/capability_floor.hpp"
#include "calib/rate/repeats.hpp"
#include "report/certificate/certificate.hpp"
#include "report/certificate/correction_words.hpp"
#include "report/certificate/facts_words.hpp"
#include "report/certificate/finding_words.hpp"
#include "report/certificate/text_block.hpp"
#include "report/files/files.hpp"
#include "report/record/record_json.hpp"
#include "report/record/statement_of.hpp"
#include "report/tables/tables.hpp"

namespace tipwright::program {

namespace {

std::string verdict_text(const calib::Conformity& conformity) {
    switch (conformity.overall) {
        case calib::Verdict::pass:
            return "meets the limits of " + conformity.limits.name;
        case calib::Verdict::fail:
            return "does not meet the limits of " + conformity.limits.name;
        case calib::Verdict::undecided:
            return "undecided against the limits of " + conformity.limits.name;
        case calib::Verdict::not_stated:
            return "no verdict against the limits of " + conformity.limits.name + ": a step is doubted";
        case calib::Verdict::no_limit:
            break;
    }
    return "no limits were asked for";
}

std::string rule_text(const calib::Conformity& conformity) {
    switch (conformity.rule) {
        case calib::DecisionRule::simple_acceptance:
            return "simple acceptance";
        case calib::DecisionRule::guard_band:
            return conformity.guard_band_times_U == 1
                       ? std::string("guard band w = U")
                       : "guard band w = " + report::significant(conformity.guard_band_times_U, 4) + " U";
        case calib::DecisionRule::conformance_probability:
            break;
    }
    return "conformance probability of at least " +
           report::significant(100 * conformity.required_probability, 4) + " %";
}

void print_for_machines(const report::certificate::Words& words, const report::Record& record,
                        const std::vector<ResultFile>& files) {
    const calib::Verdict overall = record.evaluation.conformity.overall;
    nlohmann::ordered_json document = {
        {"ok", record.completeness == report::Completeness::complete},
        {"serial", record.identity.serial},
        {"verdict", overall == calib::Verdict::no_limit ? "no limit" : name_of(overall)}};
    if (overall != calib::Verdict::no_limit) {
        document["limits"] = record.evaluation.conformity.limits.name;
        document["decision_rule"] = rule_text(record.evaluation.conformity);
    }
    if (!record.end_reason.empty()) document["end_reason"] = record.end_reason;
    auto& steps = document["steps"] = nlohmann::ordered_json::array();
    for (const auto& step : record.evaluation.steps) {
        const calib::StepStatement* stated = record.statement.of_step(step.observation.step);
        nlohmann::ordered_json row = {
            {"step", step.observation.step},
            {"tips", step.observation.tips},
            {"claim", calib::name_of(stated != nullptr ? stated->result : calib::Claim::stated)}};
        if (report::is_stated(record, step.observation.step)) {
            row["volume_per_tip_mL"] = step.volume_per_tip_mL.value;
            row["error_percent"] = step.error_percent.value;
            row["error_U_percent"] = step.error_expanded.U;
            if (step.least_U_percent) {
                row["capability_U_percent"] = *step.least_U_percent;
                row["raised_to_capability"] = calib::is_raised(step);
            }
        }
        for (const auto& judged : record.evaluation.conformity.steps) {
            if (judged.step != step.observation.step || judged.verdict == calib::Verdict::no_limit) continue;
            row["verdict"] = name_of(judged.verdict);
            if (judged.verdict == calib::Verdict::not_stated) continue;
            row["limit_low_percent"] = judged.low_percent;
            row["limit_high_percent"] = judged.high_percent;
            row["conformance_probability"] = judged.conformance_probability;
            row["wrong_probability"] = judged.wrong_probability;
            if (judged.consumer_risk) row["consumer_risk"] = *judged.consumer_risk;
            if (judged.producer_risk) row["producer_risk"] = *judged.producer_risk;
        }
        for (const auto& check : record.evaluation.monte_carlo) {
            if (check.step != step.observation.step) continue;
            const auto& figures = check.error_percent;
            row["monte_carlo"] = {{"trials", check.trials},
                                  {"u_percent", figures.u},
                                  {"low_percent", figures.symmetric.low},
                                  {"high_percent", figures.symmetric.high},
                                  {"confirms", figures.validation.valid}};
        }
        if (!step.repeats.empty()) {
            row["runs"] = step.repeats.size();
            row["runs_used"] = calib::repeats_kept(step);
        }
        if (step.reference_intensity_mm_h)
            row["reference_intensity_mm_h"] = step.reference_intensity_mm_h->value;
        steps.push_back(row);
    }
    if (const auto* fit = record.evaluation.model ? record.evaluation.model->chosen_candidate() : nullptr) {
        document["rate_model"] = fit->expression;
    }
    auto& found = document["findings"] = nlohmann::ordered_json::array();
    for (const auto& finding : report::findings_of(record)) {
        nlohmann::ordered_json one = {{"id", calib::name_of(finding.id)}, {"step", finding.step}};
        if (finding.run != 0) one["run"] = finding.run;
        for (const auto& number : finding.numbers) one[number.name] = number.value;
        one["text"] = report::certificate::finding_advice(words, finding);
        found.push_back(std::move(one));
    }
    document["claims"] = {{"results", calib::name_of(record.statement.results)},
                          {"correction", calib::name_of(record.statement.correction)},
                          {"verdict", calib::name_of(record.statement.verdict)}};
    document["reservations"] = report::certificate::reservation_sentences(words, record);
    auto& list = document["files"] = nlohmann::ordered_json::object();
    for (const auto& file : files) list[file.what] = file.file.string();
    print_json(document);
}

std::string percent_text(double share) {
    return share < 0.0005 ? std::string("less than 0.1 %") : calib::fixed(100 * share, 1) + " %";
}

// The step whose verdict is most likely wrong, and where there is none.
void print_verdicts(const calib::Conformity& conformity) {
    if (conformity.overall == calib::Verdict::no_limit) return;
    const calib::StepConformity* doubtful = nullptr;
    std::string open;
    for (const auto& step : conformity.steps) {
        if (step.verdict == calib::Verdict::undecided)
            open += (open.empty() ? "" : ", ") + std::to_string(step.step) + " (within with probability " +
                    percent_text(step.conformance_probability) + ")";
        if (step.verdict != calib::Verdict::pass && step.verdict != calib::Verdict::fail) continue;
        if (doubtful == nullptr || step.wrong_probability > doubtful->wrong_probability) doubtful = &step;
    }
    if (!conformity.limits.confirmed)
        print_sentence(stdout,
                       "Provisional: the numbers of these limits were not confirmed against their source.");
    std::string rule = "Decision rule: " + rule_text(conformity) + ".";
    if (doubtful != nullptr)
        rule += " Most doubtful verdict: wrong with a probability of " +
                percent_text(doubtful->wrong_probability) + " (step " + std::to_string(doubtful->step) +
                ", limits " + report::significant(doubtful->low_percent, 4) + " % to " +
                report::significant(doubtful->high_percent, 4) + " %).";
    if (!open.empty()) rule += " No decision at step " + open + ".";
    print_sentence(stdout, rule);
    double consumer = -1;
    double producer = -1;
    for (const auto& step : conformity.steps) {
        consumer = std::max(consumer, step.consumer_risk.value_or(-1));
        producer = std::max(producer, step.producer_risk.value_or(-1));
    }
    if (consumer >= 0)
        print_sentence(stdout, "Global risk of such gauges, at most: passed but outside " +
                                   percent_text(consumer) + ", not passed but inside " +
                                   percent_text(producer) + ".");
}

void print_monte_carlo(const std::vector<calib::MonteCarloCheck>& checks) {
    if (checks.empty()) return;
    std::vector<int> refused;
    for (const auto& check : checks)
        if (!check.error_percent.validation.valid) refused.push_back(check.step);
    if (refused.empty())
        print_sentence(stdout, "Monte Carlo confirms U(e) of every step (JCGM 101:2008, clause 8).");
    else
        print_sentence(stdout, "Monte Carlo does not confirm both digits of U(e) at step " +
                                   report::step_list(refused) + "; its interval is stated there.");
}

std::string note_of(const report::Concession& concession) {
    const bool overdue = concession.nonconformity == report::Nonconformity::calibration_overdue;
    return "the " + concession.role + (concession.serial.empty() ? "" : " (" + concession.serial + ")") +
           (overdue ? ", whose calibration was due on " : ", which failed its check of ") + concession.since +
           ", was used despite that: " + (concession.reason.empty() ? "no reason given" : concession.reason);
}

void print_correction(const report::Record& record, const report::certificate::Words& words) {
    using namespace report::certificate;
    print_sentence(stdout, "Correction: " + correction_in_one_line(record, words) + ".");
    for (const std::string& text : {siphon_sentence(record, words), correction_range(record, words)})
        if (!text.empty()) print_sentence(stdout, without_marks(text));
}

}  // namespace

Result<report::certificate::Words> certificate_words(const CommonOptions& common,
                                                     const std::string& language) {
    const bool is_path = language.find('/') != std::string::npos || language.ends_with(".toml");
    const std::filesystem::path file =
        is_path ? std::filesystem::path(language) : common.templates / "certificate" / (language + ".toml");
    auto words = report::certificate::load_words(file);
    if (!words && words.fault().code == FaultCode::file_missing)
        words.fault().remedy = "give en, de, fr, es or a words file of your own with --language";
    return words;
}

report::Paper paper_named(const std::string& name) {
    return name == "Letter" ? report::Paper::letter : report::Paper::a4;
}

Result<report::Stationery> stationery(const CommonOptions& common, const std::string& paper,
                                      const std::string& language) {
    auto words = certificate_words(common, language);
    if (!words) return words.fault();
    return report::Stationery{paper_named(paper), std::move(*words), {}};
}

Result<std::string> certificate_bytes(const CommonOptions& common, const report::Record& record,
                                      const std::string& paper, const std::string& language) {
    auto words = certificate_words(common, language);
    if (!words) return words.fault();
    report::CertificateOptions options;
    options.paper = paper_named(paper);
    options.words = std::move(*words);
    return report::draw_certificate(record, options);
}

Result<std::vector<ResultFile>> write_results(const CommonOptions& common, const report::Record& record,
                                              const std::filesystem::path& folder, const std::string& paper) {
    if (auto made = make_folder(folder); !made) return made.fault();
    const auto words = certificate_words(common, "en");
    if (!words) return words.fault();
    std::vector<ResultFile> files;
    const auto write = [&](const std::string& what, const std::string& name,
                           const std::string& bytes) -> Outcome {
        auto written = write_file(folder / name, bytes);
        if (written) files.push_back({what, folder / name});
        return written;
    };
    if (auto done = write("record", "record.json", report::record_to_json(record)); !done)
        return done.fault();
    for (const report::RunTable& table : report::run_tables()) {
        if (!table.is_of(record)) continue;
        const auto text = table.text(record, *words, report::TableForm::current);
        if (!text) return text.fault();
        if (auto done = write(std::string(table.name), std::string(table.file), *text); !done)
            return done.fault();
    }
    if (record.completeness == report::Completeness::complete &&
        record.statement.results != calib::Claim::not_stated) {
        const auto pdf = certificate_bytes(common, record, paper, "en");
        if (!pdf) return pdf.fault();
        if (auto done = write("certificate", "certificate.pdf", *pdf); !done) return done.fault();
    }
    return files;
}

void print_results(const CommonOptions& common, const report::Record& record,
                   const std::vector<ResultFile>& files) {
    const auto words = certificate_words(common, "en");
    if (!words) {
        static_cast<void>(fail(common, words.fault()));
        return;
    }
    if (common.json) {
        print_for_machines(*words, record, files);
        return;
    }
    print_to(stdout, "\n");
    print_sentence(stdout, "Gauge " + record.identity.serial + ", " + record.identity.kind_title + ": " +
                               verdict_text(record.evaluation.conformity) + ".");
    if (const std::string table = step_table(record, line_width(STDOUT_FILENO)); !table.empty())
        print_lines(stdout, "\n" + table + "\n");
    print_verdicts(record.evaluation.conformity);
    print_monte_carlo(record.evaluation.monte_carlo);
    if (const auto raised = report::certificate::raised_words(*words, record); !raised.empty())
        print_sentence(stdout, raised);
    const auto sentence = [](const std::string& text) { print_sentence(stdout, text); };
    if (const auto* fit = record.evaluation.model ? record.evaluation.model->chosen_candidate() : nullptr)
        sentence("Volume per tip: " + fit->expression + " (Q in mL/s).");
    if (report::certificate::has_correction(record)) print_correction(record, *words);
    if (record.evaluation.no_correction == calib::NoCorrection::static_check)
        sentence("Correction: none; " + words->text("correction.none_default"));
    if (record.evaluation.no_correction == calib::NoCorrection::one_rate)
        sentence("Correction: none; " + words->text("correction.none_one_rate"));
    for (const auto& finding : report::findings_of(record))
        sentence("Finding: " + report::certificate::finding_advice(*words, finding) + ".");
    for (const auto& one : report::certificate::reservation_sentences(*words, record))
        sentence("Reservation: " + one);
    for (const auto& deviation : record.deviations) sentence("Note: " + deviation);
    for (const auto& concession : record.concessions) sentence("Note: " + note_of(concession));
    if (record.completeness != report::Completeness::complete) {
        sentence("No certificate: the measurement is incomplete (" + record.end_reason + ").");
        if (!record.evaluation.steps.empty())
            sentence(
                "A certificate of the finished steps alone can be drafted, and issued when somebody accepts "
                "that with --reason.");
    }
    if (record.statement.results == calib::Claim::not_stated)
        sentence("No certificate: " + words->text("reservation.no_step"));
    print_to(stdout, "\n");
    for (const auto& file : files) print_to(stdout, "%-12s %s\n", file.what.c_str(), file.file.c_str());
}

}  // namespace tipwright::program
