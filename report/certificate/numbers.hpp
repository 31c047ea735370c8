// Numbers of a certificate: rounded by calib/base/rounding.hpp, written as the language writes them.
#pragma once

#include <string>

#include "calib/base/uncertain.hpp"
#include "report/certificate/words.hpp"

namespace tipwright::report::certificate {

class Numbers {
public:
    explicit Numbers(const Words& words) : words_(words) {}

    struct Pair {
        std::string value;
        std::string U;
        std::string k;
    };
    // Value and U to the decimals that two figures of U earn.
    Pair pair(double value, const calib::Expanded& expanded) const;
    Pair pair(const calib::Uncertain& quantity, double coverage) const;

    // To the decimals of their column (report/tables/column_decimals.hpp).
    Pair pair(double value, const calib::Expanded& expanded, int decimals) const;
    Pair pair(const calib::Uncertain& quantity, double coverage, int decimals) const;

    std::string fixed(double value, int decimals) const;
    // So many significant digits, ends of zeros cut.
    std::string significant(double value, int digits) const;
    // So many significant digits, all of them written.
    std::string figures(double value, int digits) const;
    // A share of 1 as per cent, without digits that say nothing: "95", "99.73".
    std::string percent(double share) const;
    // A probability in per cent for a table: "97.5", "< 0.1", "> 99.9".
    std::string probability(double share) const;
    // "12", "3.4", "∞".
    std::string dof(double dof) const;

private:
    const Words& words_;
};

}  // namespace tipwright::report::certificate
