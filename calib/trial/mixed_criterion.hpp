// MixedCriterion: the restricted or full likelihood of calib/trial/mixed_model.hpp as a function of the
// relative covariance factors, from cross products that are formed once: an evaluation costs a few thousand
// operations for any number of rows. Private to calib/trial.
#pragma once

#include <Eigen/Dense>
#include <vector>

#include "calib/trial/mixed_model.hpp"

namespace tipwright::calib::trial {

struct SpecimenProducts {
    Eigen::MatrixXd ZZ;  // of level, tilt, and one column a run
    Eigen::MatrixXd ZX;
    Eigen::VectorXd Zy;
    int rows = 0;
};

// lambda11, lambda21, lambda22, lambda_run.
struct Factors {
    double level = 0;
    double cross = 0;
    double tilt = 0;
    double run = 0;
};

struct CriterionState {
    double log_determinants = 0;  // log|L|^2, and log|R_X|^2 when restricted
    double rss = 0;               // r^2 of Bates et al.
    Eigen::VectorXd b;            // of the residuals from the ordinary fit
    Eigen::MatrixXd XVX;          // X' V^-1 X s^2
    bool ok = false;
};

class MixedCriterion {
public:
    static Result<MixedCriterion> of(const MixedData& data, Likelihood likelihood);

    CriterionState state(const Factors& factors) const;
    // Profiled over s.
    double profiled(const Factors& factors) const;
    // At a given s.
    double at(const Factors& factors, double s) const;
    Eigen::MatrixXd lambda(const Factors& factors, const SpecimenProducts& specimen) const;

    std::size_t free_factors() const { return columns == 2 ? (runs > 0 ? 4 : 3) : (runs > 0 ? 2 : 1); }
    Factors factors_of(const double* free) const;
    double degrees() const { return restricted ? rows - fixed : rows; }

    std::vector<SpecimenProducts> specimens;
    Eigen::MatrixXd XX;
    Eigen::VectorXd start;  // ordinary least squares
    double yy = 0;          // of the residuals from it
    double rows = 0;
    int fixed = 0;
    std::size_t columns = 1;
    int runs = 0;
    bool restricted = true;
};

// BOBYQA from a point, again from where it ends until nothing is gained. Bounds may be infinite.
struct Minimum {
    std::vector<double> at;
    double value = 0;
};
using Objective = double (*)(unsigned n, const double* x, double* gradient, void* data);
Minimum minimise(Objective objective, void* data, std::vector<double> start, const std::vector<double>& low,
                 const std::vector<double>& high, double step, double tolerance);

}  // namespace tipwright::calib::trial
