#include "calib/statistics/distributions.hpp"

#include <boost/math/distributions/chi_squared.hpp>
#include <boost/math/distributions/fisher_f.hpp>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <cmath>
#include <map>
#include <utility>

#include "calib/statistics/boost_policy.hpp"

namespace tipwright::calib {

namespace {

namespace bm = boost::math;
using Normal = bm::normal_distribution<double, SameEverywhere>;
using Student = bm::students_t_distribution<double, SameEverywhere>;
using Fisher = bm::fisher_f_distribution<double, SameEverywhere>;
using ChiSquared = bm::chi_squared_distribution<double, SameEverywhere>;

}  // namespace

double normal_cumulative(double z) {
    return bm::cdf(Normal(), z);
}

double normal_quantile(double p) {
    return bm::quantile(Normal(), p);
}

double student_cumulative(double t, double dof) {
    return std::isinf(dof) && dof > 0 ? normal_cumulative(t) : bm::cdf(Student(dof), t);
}

double student_quantile(double p, double dof) {
    return std::isinf(dof) && dof > 0 ? normal_quantile(p) : bm::quantile(Student(dof), p);
}

namespace {

// From the upper tail, (1 - p) / 2, which keeps its digits when the coverage is near 1.
double two_sided(double coverage, double dof) {
    const double tail = (1 - coverage) / 2;
    return std::isinf(dof) && dof > 0 ? bm::quantile(bm::complement(Normal(), tail))
                                      : bm::quantile(bm::complement(Student(dof), tail));
}

// What was computed is kept for whoever asks the same again.
class Remembered {
public:
    using Function = double (*)(double, double);
    explicit Remembered(Function compute) : compute_(compute) {}
    double operator()(double share, double dof) {
        // Such a pair has no place in an order.
        if (!(share > 0 && share < 1 && dof > 0)) return compute_(share, dof);
        const std::pair asked(share, dof);
        if (const auto found = known_.find(asked); found != known_.end()) return found->second;
        constexpr std::size_t most = 1000;
        if (known_.size() >= most) known_.clear();
        return known_[asked] = compute_(share, dof);
    }

private:
    Function compute_;
    std::map<std::pair<double, double>, double> known_;
};

double chi_squared(double p, double dof) {
    return bm::quantile(ChiSquared(dof), p);
}

}  // namespace

// Each table of a certificate asks for the same few factors again: without memory a tenth of its time would
// go there.
double student_two_sided(double coverage, double dof) {
    thread_local Remembered known(two_sided);
    return known(coverage, dof);
}

double chi_squared_cumulative(double x, double dof) {
    return bm::cdf(ChiSquared(dof), x);
}

// Each fit of so many points asks for the same limit: a tenth of its time.
double chi_squared_quantile(double p, double dof) {
    thread_local Remembered known(chi_squared);
    return known(p, dof);
}

namespace {

// Beyond, F is chi-squared to twelve digits.
constexpr double as_good_as_infinite = 1e12;

}  // namespace

double fisher_quantile(double p, double dof_above, double dof_below) {
    if (!(dof_below < as_good_as_infinite)) return chi_squared_quantile(p, dof_above) / dof_above;
    return bm::quantile(Fisher(dof_above, dof_below), p);
}

double fisher_cumulative(double x, double dof_above, double dof_below) {
    if (!(dof_below < as_good_as_infinite)) return chi_squared_cumulative(x * dof_above, dof_above);
    return bm::cdf(Fisher(dof_above, dof_below), x);
}

}  // namespace tipwright::calib
