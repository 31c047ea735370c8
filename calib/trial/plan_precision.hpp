// PlanPrecision: of a step what its volume is worth at N tips, and of several steps the largest U(h) over the
// range that generalised least squares gives. Internal to calib/trial; what the numbers mean:
// shortest_plan.hpp.
#pragma once

#include <Eigen/Dense>
#include <map>
#include <string>
#include <vector>

#include "calib/trial/shortest_plan.hpp"

namespace tipwright::calib::trial {

// Of one intensity: relative variance of v at N tips, alpha/N^2 + beta/N, and what it shares with others.
struct StepModel {
    double flow_mL_s = 0;
    double volume_mL = 0;
    double alpha = 0;
    double beta = 0;
    std::map<std::string, double> shared;  // relative standard uncertainty, signed
    double interval_s = 0;
    double settle_s = 0;
    double seconds(double tips) const { return settle_s + tips * interval_s; }
};

class PlanPrecision {
public:
    // Fault: bad_value (a range, a wanted U, what is expected of the gauge).
    static Result<PlanPrecision> of(const PlanQuestion& question);

    Result<StepModel> model(double intensity_mm_h) const;
    double volume(double flow_mL_s) const;
    // What the steps have in common, as covariance of their volumes per tip.
    Eigen::MatrixXd shared_by(const std::vector<StepModel>& steps) const;
    // Largest U(h)/h over the range in per cent; infinite where the steps do not determine the curve.
    double largest_U(const std::vector<StepModel>& steps, const std::vector<double>& tips) const {
        return largest_U(steps, tips, shared_by(steps), parameters());
    }
    double largest_U(const std::vector<StepModel>& steps, const std::vector<double>& tips, Eigen::MatrixXd V,
                     Eigen::Index parameters) const;
    Eigen::Index parameters() const { return question_.expected.curved ? 3 : 2; }
    double wetting_s() const;
    const PlanQuestion& question() const { return question_; }

private:
    explicit PlanPrecision(const PlanQuestion& question) : question_(question) {}
    PlanQuestion question_;
    double area_u_ = 0;
    std::vector<double> grid_;  // flows, mL/s
};

}  // namespace tipwright::calib::trial
