// Place: what the gauges of several kinds would make of the rain of a place, and which kind the data support.
//   error of an amount = sum of I h (1/y(I) - 1) / sum of I h     over the parts (I, h) that make it up
// For the yearly amount and the largest 1-, 5- and 60-minute amounts, three ways: as indicated; after a
// correction by the kind's mean curve; after a correction by each gauge's own certificate. Of each: mean
// error, what single gauges lie apart, what one gauge's runs lie apart, and the grain: the tip (and the
// siphon's charge) that is not full at either end of the amount, triangular, u = d/sqrt 6. Root mean square
// error of a gauge of the kind = sqrt(mean^2 + between^2 + within^2 + grain^2). Which kind has the smallest:
// from draws of each kind's mean and spread, given the trial (mean Student, variance scaled inverse
// chi-squared: the posterior of a normal sample under 1/sigma^2, Box & Tiao 1973, chapter 2; with
// Satterthwaite's degrees of freedom where data are not balanced). The bench's common error shifts all kinds
// alike. Deterministic: seed and number of draws are constants. Units: per cent, mm, mm/h. Faults: those of
// what it is given; bad_value (a probability outside 0 to 1).
#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include "calib/trial/kind_model.hpp"
#include "calib/trial/rain_climate.hpp"

namespace tipwright::calib::trial {

enum class Amount { year, max_1_min, max_5_min, max_60_min };
inline constexpr std::array amount_names{"year", "max_1_min", "max_5_min", "max_60_min"};
enum class Corrected { none, by_kind, by_certificate };
inline constexpr std::array corrected_names{"none", "by_kind", "by_certificate"};

// Besides the model: what of a kind the grain depends on.
struct PlacedKind {
    const KindModel* model = nullptr;
    double tip_mm = 0.2;
    double siphon_mm = 0;  // depth of one emptying; 0: straight tube
};

struct AmountError {
    Uncertain mean;  // per cent, the bench's common part included
    double U_mean = 0;
    double between_sd = 0;
    double within_sd = 0;
    double grain_sd = 0;
    double rms = 0;
    double rms_low = 0;  // interval of the draws, 95 %
    double rms_high = 0;
    double best = 0;          // probability that this kind's rms is the smallest at this place
    double beyond_trial = 0;  // share of the amount at intensities above the trial's highest, 0 to 1
};

struct PlaceResult {
    std::string place;
    std::vector<std::array<std::array<AmountError, corrected_names.size()>, amount_names.size()>> kinds;
    const AmountError& of(std::size_t kind, Amount amount, Corrected corrected) const {
        return kinds[kind][static_cast<std::size_t>(amount)][static_cast<std::size_t>(corrected)];
    }
};

// Probability that a beats b: its kind's rms is smaller, and that of one gauge each the one of a is nearer.
struct Duel {
    std::size_t a = 0;
    std::size_t b = 0;
    double kind = 0;
    double gauge = 0;
};

inline constexpr int draws = 8000;

PlaceResult judge_place(const std::vector<PlacedKind>& kinds, const RainClimate& climate);
std::vector<Duel> duels(const std::vector<PlacedKind>& kinds, const RainClimate& climate, Amount amount,
                        Corrected corrected);

// Which kind, by one amount and one way; and what would decide where the data do not.
struct Choice {
    std::size_t kind = 0;    // smallest rms
    double probability = 0;  // that it is the smallest
    bool supported = false;  // probability >= required
    // Undecided: specimens of each kind, and runs of each specimen there is, that would be expected to
    // decide, were means and spreads as they seem now; none: even most_specimens, most_runs would not.
    std::optional<int> specimens;
    std::optional<int> runs;
};
inline constexpr int most_specimens = 200;
inline constexpr int most_runs = 50;
Choice choose(const std::vector<PlacedKind>& kinds, const RainClimate& climate, Amount amount,
              Corrected corrected, double required = 0.95);

}  // namespace tipwright::calib::trial
