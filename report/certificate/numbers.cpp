#include "report/certificate/numbers.hpp"

#include <algorithm>
#include <cmath>

#include "calib/base/rounding.hpp"
#include "report/tables/correction_csv.hpp"

namespace tipwright::report::certificate {

Numbers::Pair Numbers::pair(double value, const calib::Expanded& expanded) const {
    const calib::RoundedPair rounded = calib::round_with_uncertainty(value, expanded.U);
    return {words_.number(rounded.value), words_.number(rounded.uncertainty), fixed(expanded.k, 2)};
}

Numbers::Pair Numbers::pair(const calib::Uncertain& quantity, double coverage) const {
    return pair(quantity.value, calib::expanded(quantity, coverage));
}

Numbers::Pair Numbers::pair(double value, const calib::Expanded& expanded, int decimals) const {
    const calib::RoundedPair rounded = calib::round_to_decimals(value, expanded.U, decimals);
    return {words_.number(rounded.value), words_.number(rounded.uncertainty), fixed(expanded.k, 2)};
}

Numbers::Pair Numbers::pair(const calib::Uncertain& quantity, double coverage, int decimals) const {
    return pair(quantity.value, calib::expanded(quantity, coverage), decimals);
}

std::string Numbers::fixed(double value, int decimals) const {
    return words_.number(calib::fixed(value, decimals));
}

std::string Numbers::significant(double value, int digits) const {
    return words_.number(report::significant(value, digits));
}

std::string Numbers::figures(double value, int digits) const {
    if (!(value != 0) || !std::isfinite(value)) return fixed(value, 0);
    const int magnitude = static_cast<int>(std::floor(std::log10(std::abs(value))));
    return fixed(value, std::max(0, digits - 1 - magnitude));
}

std::string Numbers::percent(double share) const {
    return significant(100 * share, 6);
}

std::string Numbers::probability(double share) const {
    if (share < 0.001) return words_.text("conformity.below", {{"value", fixed(0.1, 1)}});
    if (share > 0.999) return words_.text("conformity.above", {{"value", fixed(99.9, 1)}});
    return fixed(100 * share, 1);
}

std::string Numbers::dof(double dof) const {
    // Beyond this Student's t is the normal distribution to every digit printed.
    constexpr double as_good_as_infinite = 1e4;
    if (!(dof < as_good_as_infinite)) return "∞";
    return dof < 10 ? significant(dof, 2) : fixed(dof, 0);
}

}  // namespace tipwright::report::certificate
