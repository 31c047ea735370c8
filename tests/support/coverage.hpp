// Coverage study: many virtual calibrations of one gauge kind, each with systematic errors of its own drawn
// from the distributions the bench's budget states, under the adaptive stopping rule; counts how often the
// stated intervals hold the truth. The truth of V0 and tau is what the same fit makes of the true volumes at
// the same flows: the gauge's own V0 and tau where its volume is a straight line in the flow, else the line
// nearest to it.
#pragma once

#include <algorithm>
#include <atomic>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <map>
#include <memory>
#include <numbers>
#include <string>
#include <thread>
#include <vector>

#include "bench/virtual_bench/errors.hpp"
#include "tests/support/coverage_count.hpp"
#include "tests/support/paths.hpp"
#include "tests/support/virtual_run.hpp"

namespace tipwright::test {

struct CoverageStudy {
    std::map<std::string, CoverageCount> counts;  // "e", "V0", "tau", "h", and "e 1", "e 2", ... per step
    std::map<std::string, int> forms;             // how often each rate form was chosen
    int runs = 0;
    int failed = 0;
    std::vector<std::string> failures;
    int passes = 0;        // guard-banded, limits drawn about the true error
    int false_passes = 0;  // of those, the true error lay outside
};

// True volume per tip over flow. A siphon's takes a simulation for each flow, so it is tabulated once over
// flows and over sizes of the siphon about that of the kind.
class TrueVolume {
public:
    TrueVolume(const calib::Gauge& gauge, const bench::GaugeTruth& truth)
        : curve_(gauge, truth, gauge.catch_diameter_mm.value),
          is_siphon_(gauge.inlet == calib::Inlet::siphon) {
        if (!is_siphon_) return;
        auto of_sizes = std::make_shared<std::vector<std::vector<double>>>();
        for (int size = -sizes; size <= sizes; ++size) {
            bench::GaugeTruth one = truth;
            one.siphon_volume_mL *= 1 + size * size_step;
            const bench::GaugeCurve curve(gauge, one, gauge.catch_diameter_mm.value);
            std::vector<double>& volumes = of_sizes->emplace_back();
            for (int k = 0; k <= points; ++k) volumes.push_back(curve.volume_per_tip_mL(flow_at(k)));
        }
        of_sizes_ = std::move(of_sizes);
        volumes_ = (*of_sizes_)[sizes];
    }
    // Of a gauge whose siphon is larger than the kind's by this part.
    TrueVolume with_siphon(double relative) const {
        TrueVolume one = *this;
        if (!is_siphon_) return one;
        const double at = std::clamp(relative / size_step + sizes, 0.0, 2.0 * sizes - 1e-9);
        const auto below = static_cast<std::size_t>(at);
        const double share = at - static_cast<double>(below);
        for (std::size_t k = 0; k < volumes_.size(); ++k)
            one.volumes_[k] = (1 - share) * (*of_sizes_)[below][k] + share * (*of_sizes_)[below + 1][k];
        return one;
    }
    double operator()(double flow_mL_s) const {
        if (!is_siphon_) return curve_.volume_per_tip_mL(flow_mL_s);
        const double at = std::log(flow_mL_s / lowest_mL_s) / std::log(highest_mL_s / lowest_mL_s) * points;
        const double within = std::min(std::max(at, 0.0), points - 1e-9);
        const auto k = static_cast<std::size_t>(within);
        const double share = within - static_cast<double>(k);
        return (1 - share) * volumes_[k] + share * volumes_[k + 1];
    }
    // Volume and flow of steady tips interval_s apart: v(Q) = Q T.
    double at_interval(double interval_s) const {
        double low = is_siphon_ ? lowest_mL_s : 1e-4;
        double high = is_siphon_ ? highest_mL_s : 20;
        for (int i = 0; i < 100; ++i) {
            const double middle = std::sqrt(low * high);
            ((*this)(middle) > middle * interval_s ? low : high) = middle;
        }
        return (*this)(std::sqrt(low * high));
    }

private:
    static constexpr int points = 120;
    // Near a flow at which siphon and bucket beat the volume is no straight line over either.
    static constexpr int sizes = 12;
    static constexpr double size_step = 0.01;
    static constexpr double lowest_mL_s = 0.04;
    static constexpr double highest_mL_s = 6;
    static double flow_at(int k) {
        return lowest_mL_s * std::pow(highest_mL_s / lowest_mL_s, 1.0 * k / points);
    }
    bench::GaugeCurve curve_;
    bool is_siphon_;
    std::vector<double> volumes_;
    std::shared_ptr<const std::vector<std::vector<double>>> of_sizes_;
};

inline void count_run(CoverageStudy& study, const VirtualRun& run, const TrueVolume& volume,
                      double true_area_cm2, double nominal_mm, std::uint64_t seed) {
    ++study.runs;
    if (!run.end.complete || !run.evaluation) {
        ++study.failed;
        study.failures.push_back("seed " + std::to_string(seed) + ": " +
                                 (run.end.fault ? run.end.fault->line() : run.fault));
        return;
    }
    const calib::Evaluation& evaluation = *run.evaluation;
    auto true_steps = evaluation.steps;
    int k = 0;
    for (auto& step : true_steps) {
        const double true_v = volume(step.flow_mL_min->value / 60);
        const double true_e = 100 * (true_area_cm2 * nominal_mm / 10 / true_v - 1);
        const double U = step.error_expanded.U;
        if (std::getenv("COVERAGE_EACH") != nullptr)
            std::printf(
                "# seed %llu step %d at %.1f mm/h, %.5f mL/s: %d tips, e %.3f %%, true %.3f %%, U %.3f %%\n",
                static_cast<unsigned long long>(seed), step.observation.step,
                step.observation.set_intensity_mm_h, step.flow_mL_min->value / 60, step.observation.tips,
                step.error_percent.value, true_e, U);
        study.counts["e"].add(step.error_percent, true_e, U);
        study.counts["e " + std::to_string(++k)].add(step.error_percent, true_e, U);
        step.volume_per_tip_mL.value = true_v;
        // A limit anywhere from well inside to well outside of the true error, on its side of zero.
        const double share =
            std::fmod(0.6180339887 * static_cast<double>(seed * 7 + static_cast<std::uint64_t>(k)), 1.0);
        const double limit = std::abs(true_e) + U * (4 * share - 2);
        const double stated = true_e < 0 ? -step.error_percent.value : step.error_percent.value;
        const auto verdict = calib::judge_error({stated, step.error_percent.u, step.error_percent.dof}, U,
                                                -1e3, limit, calib::DecisionRule::guard_band, 0.95);
        if (verdict.verdict == calib::Verdict::pass) {
            ++study.passes;
            study.false_passes += std::abs(true_e) > limit ? 1 : 0;
        }
    }
    ++study.forms[calib::name_of(evaluation.model->chosen)];
    const auto* fit = evaluation.model->chosen_candidate();
    if (fit != nullptr && fit->form != calib::RateForm::power) {
        const auto ideal = calib::fit_rate_model(true_steps);
        if (ideal) {
            for (const auto& candidate : ideal->candidates) {
                if (candidate.form != fit->form) continue;
                for (std::size_t p = 0; p < std::min<std::size_t>(2, fit->parameters.size()); ++p) {
                    study.counts[p == 0 ? "V0" : "tau"].add(fit->parameters[p], candidate.parameters[p].value,
                                                            calib::expanded(fit->parameters[p]).U);
                }
            }
        }
    }
    if (evaluation.correction) {
        for (const auto& row : evaluation.correction->rows) {
            const double truth = 10 * volume.at_interval(row.interval_s) / true_area_cm2;
            study.counts["h"].add(row.depth_mm, truth, calib::expanded(row.depth_mm).U);
        }
    }
}

inline CoverageStudy study_coverage(const std::string& kind, const std::string& plan, int runs, int threads,
                                    std::uint64_t first_seed = 1) {
    const std::filesystem::path templates =
        std::filesystem::path(tipwright::test::source_dir()) / "templates";
    const auto gauge = bench::load_gauge(kind, templates);
    const auto bench_description = bench::load_bench("virtual-bench", templates);
    CoverageStudy study;
    if (!gauge || !bench_description || !gauge->truth) {
        study.failures.push_back("no gauge kind " + kind);
        return study;
    }
    const TrueVolume volume(gauge->gauge, *gauge->truth);
    std::atomic<int> next{0};
    // Kept by run, so that the sums do not depend on which thread came first.
    std::vector<VirtualRun> done(static_cast<std::size_t>(runs));
    std::vector<std::thread> workers;
    for (int t = 0; t < threads; ++t) {
        workers.emplace_back([&] {
            for (int k = next++; k < runs; k = next++) {
                VirtualRunInputs in;
                in.gauge = kind;
                in.plan = plan;
                in.seed = first_seed + static_cast<std::uint64_t>(k);
                in.with_truth = false;
                auto run = run_virtual(in);
                run.replayed.reset();
                done[static_cast<std::size_t>(k)] = std::move(run);
            }
        });
    }
    for (auto& worker : workers) worker.join();
    for (int k = 0; k < runs; ++k) {
        const std::uint64_t seed = first_seed + static_cast<std::uint64_t>(k);
        const auto errors =
            bench::draw_errors(gauge->gauge, *bench_description->truth, bench_description->metrology, seed);
        const double radius_cm = errors.catch_diameter_mm / 20;
        count_run(study, done[static_cast<std::size_t>(k)], volume.with_siphon(errors.siphon_volume_relative),
                  std::numbers::pi * radius_cm * radius_cm, gauge->gauge.nominal_tip_mm, seed);
    }
    return study;
}

}  // namespace tipwright::test
