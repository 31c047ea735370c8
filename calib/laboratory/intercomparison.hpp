// Intercomparison: how laboratories' results of one item agree with an assigned value.
//   E_n = (x - X)/sqrt(U^2 + U_X^2)   |E_n| <= 1 agrees           (ISO 13528:2022, 9.7; ISO/IEC 17043)
//   zeta = (x - X)/sqrt(u^2 + u_X^2)                               (9.6)
//   z = (x - X)/sigma_pt, z' = (x - X)/sqrt(sigma_pt^2 + u_X^2) where u_X > 0.3 sigma_pt   (9.4, 9.5, 9.2.1)
//     |z| <= 2 satisfactory, < 3 questionable, else unsatisfactory; zeta alike
//   Consensus by algorithm A (C.3): x* = median, s* = 1.483 median |x - x*|; values beyond x* +- 1.5 s* are
//   moved there; x* = their mean, s* = 1.134 times their standard deviation; until neither changes in the
//   tenth figure.  u_X = 1.25 s*/sqrt(p)  (7.7.3). A consensus of the participants is no reference: then
//   there are no E_n, and zeta is a little small for values that went into it.
// Clause numbers from memory. Unit: that of the values. Domain: three values or more for a consensus, all
// finite. Checks: AMC 1989 (tests/calib/laboratory/intercomparison_test.cpp). Faults: too_few_points,
// bad_value, not_finite.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "calib/base/fault.hpp"

namespace tipwright::calib {

struct RobustMean {
    double mean = 0;  // x*
    double sd = 0;    // s*
    int iterations = 0;
    double u() const;  // of the mean
    int values = 0;
};
Result<RobustMean> algorithm_a(const std::vector<double>& values);

struct Participant {
    std::string name;
    double value = 0;
    std::optional<double> U;  // expanded, with its k
    double k = 2;
};

struct AssignedValue {
    double value = 0;
    double U = 0;
    double k = 2;
    bool consensus = false;
    double robust_sd = 0;  // of a consensus
};

enum class Score { satisfactory, questionable, unsatisfactory };
inline constexpr std::array score_names{std::string_view("satisfactory"), std::string_view("questionable"),
                                        std::string_view("unsatisfactory")};

struct ParticipantScore {
    double difference = 0;
    std::optional<double> en, zeta, z;  // z: z' where z_includes_u
    std::optional<Score> by_z, by_zeta;
    std::optional<bool> agrees;  // |E_n| <= 1
};

struct Intercomparison {
    AssignedValue assigned;
    std::optional<double> sigma_pt;
    bool z_includes_u = false;
    std::vector<ParticipantScore> scores;  // as the participants
};

// reference: assigned from outside; none: consensus. sigma_pt: standard deviation for proficiency; none: s*
// of a consensus, no z with a reference.
Result<Intercomparison> intercompare(const std::vector<Participant>& participants,
                                     const std::optional<AssignedValue>& reference,
                                     const std::optional<double>& sigma_pt);

}  // namespace tipwright::calib
