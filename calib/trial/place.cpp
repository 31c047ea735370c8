#include "calib/trial/place.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <numeric>

#include "calib/statistics/distributions.hpp"
#include "calib/statistics/random_lanes.hpp"

namespace tipwright::calib::trial {

namespace {

constexpr std::uint64_t seed = 1;
constexpr std::uint64_t shared_stream = 1000000;

// One kind at one amount, as the draws need it; all in per cent.
struct Seen {
    double mean = 0;
    double mean_variance = 0;  // of the trial alone
    double between = 0;        // variance between gauges
    double within = 0;         // variance of runs of one gauge, over this amount
    double certificate = 0;    // variance of one gauge's own curve as one run of it shows it
    double grain = 0;          // variance
    double dof = 1;
    double mean_dof = 1;
    double common = 0;
    double beyond = 0;
    int specimens = 2;
    double runs_each = 1;
};

std::vector<RainPart> parts_of(const RainClimate& climate, Amount amount) {
    if (amount == Amount::year) return climate.parts;
    return climate.maxima[static_cast<std::size_t>(amount) - 1].parts;
}

double amount_mm(const RainClimate& climate, Amount amount) {
    return amount == Amount::year ? climate.amount_mm
                                  : climate.maxima[static_cast<std::size_t>(amount) - 1].amount_mm;
}

Seen seen(const PlacedKind& placed, const RainClimate& climate, Amount amount) {
    const KindModel& kind = *placed.model;
    Seen out;
    out.specimens = kind.specimens;
    out.runs_each = static_cast<double>(kind.runs) / kind.specimens;
    out.common = kind.u_common_percent;
    double whole = 0;
    const auto parts = parts_of(climate, amount);
    for (const RainPart& part : parts) whole += part.intensity_mm_h * part.minutes;
    const bool tilts = kind.model.random_columns == 2;
    Functional gradient;  // of the error by y
    gradient.c.assign(kind.knots_mm_h.size(), 0);
    gradient.z.assign(tilts ? 2 : 1, 0);
    for (const RainPart& part : parts) {
        const double share = part.intensity_mm_h * part.minutes / whole;
        const auto weights = knot_weights(kind.knots_mm_h, part.intensity_mm_h);
        double y = 0;
        for (std::size_t k = 0; k < weights.size(); ++k) y += weights[k] * kind.model.parameters[k];
        // A line drawn on far beyond the trial may leave what a gauge can do.
        y = std::max(y, 0.05);
        out.mean += 100 * share * (1 / y - 1);
        const double slope = -100 * share / (y * y);
        for (std::size_t k = 0; k < weights.size(); ++k) gradient.c[k] += slope * weights[k];
        gradient.z[0] += slope;
        if (tilts) gradient.z[1] += slope * part.intensity_mm_h / kind.tilt_unit_mm_h;
        if (part.intensity_mm_h > kind.knots_mm_h.back()) out.beyond += share;
    }
    const FunctionalResult one = evaluate(kind.model, gradient);
    Functional mean = gradient;
    mean.z.clear();
    const FunctionalResult centre = evaluate(kind.model, mean);
    out.mean_variance = centre.variance;
    out.mean_dof = centre.dof;
    out.between = std::max(0.0, one.variance - centre.variance);
    out.dof = one.dof;
    // Runs shift a curve as a whole; the residual of each point averages over the amount's many tips.
    out.within = gradient.z[0] * gradient.z[0] * kind.model.run_variance();
    out.certificate = out.within;
    for (double c : gradient.c) out.certificate += c * c * kind.model.residual_variance();
    const double unfilled = (placed.tip_mm * placed.tip_mm + placed.siphon_mm * placed.siphon_mm) / 6;
    const double all = amount_mm(climate, amount);
    out.grain = all > 0 ? 1e4 * unfilled / (all * all) : 0;
    return out;
}

// Draws of one kind: scaled inverse chi-squared, and two sets of normal deviates.
struct Deviates {
    std::vector<double> scale;  // nu / chi2
    std::vector<double> mean;
    std::vector<double> gauge;
    std::vector<double> run;
};

std::vector<double> normals(std::uint64_t stream, std::uint64_t substream) {
    std::vector<double> out(draws);
    RandomLanes random(seed, stream, substream);
    static_assert(draws % random_block_step == 0);
    for (std::size_t at = 0; at < out.size(); at += random_block)
        random.fill_normal(std::span(out).subspan(at, std::min(random_block, out.size() - at)));
    return out;
}

// Quantiles at the middles of equal shares, in a random order: the distribution without its noise.
std::vector<double> scales(std::uint64_t stream, double dof) {
    std::vector<double> out(draws);
    for (std::size_t i = 0; i < out.size(); ++i)
        out[i] = dof / chi_squared_quantile((static_cast<double>(i) + 0.5) / draws, dof);
    const std::vector<double> order = normals(stream, 9);
    std::vector<std::size_t> index(out.size());
    std::iota(index.begin(), index.end(), std::size_t{0});
    std::sort(index.begin(), index.end(), [&](std::size_t a, std::size_t b) { return order[a] < order[b]; });
    std::vector<double> shuffled(out.size());
    for (std::size_t i = 0; i < out.size(); ++i) shuffled[i] = out[index[i]];
    return shuffled;
}

class Draws {
public:
    explicit Draws(std::size_t kinds) : common_(normals(shared_stream, 0)) {
        for (std::size_t k = 0; k < kinds; ++k) {
            normals_.push_back({normals(k, 1), normals(k, 2), normals(k, 3)});
            scales_.emplace_back();
        }
    }

    struct Drawn {
        std::vector<double> rms;
        std::vector<double> error;  // of one gauge, without sign
    };
    Drawn of(std::size_t kind, const Seen& seen, Corrected corrected) {
        const double dof = std::round(std::min(seen.dof, 500.0) * 10) / 10;
        auto found = scales_[kind].find(dof);
        if (found == scales_[kind].end()) found = scales_[kind].emplace(dof, scales(kind, dof)).first;
        const std::vector<double>& scale = found->second;
        const auto& [to_mean, to_gauge, to_run] = normals_[kind];
        Drawn out{std::vector<double>(draws), std::vector<double>(draws)};
        for (std::size_t i = 0; i < out.rms.size(); ++i) {
            const double shift = seen.common * common_[i];
            double mean = shift;
            double between = 0;
            double within = seen.within;
            if (corrected != Corrected::by_certificate) {
                between = seen.between * scale[i];
                const double off = std::sqrt(seen.mean_variance * scale[i]) * to_mean[i];
                mean += corrected == Corrected::none ? seen.mean + off : off;
            } else {
                within = seen.certificate;
            }
            const double apart = between + within + seen.grain;
            out.rms[i] = std::sqrt(mean * mean + apart);
            out.error[i] = std::abs(mean + std::sqrt(between) * to_gauge[i] +
                                    std::sqrt(within + seen.grain) * to_run[i]);
        }
        return out;
    }

private:
    std::vector<double> common_;
    std::vector<std::array<std::vector<double>, 3>> normals_;
    std::vector<std::map<double, std::vector<double>>> scales_;
};

double quantile_of(std::vector<double> values, double share) {
    const auto at = static_cast<std::ptrdiff_t>(share * static_cast<double>(values.size() - 1));
    std::nth_element(values.begin(), values.begin() + at, values.end());
    return values[static_cast<std::size_t>(at)];
}

AmountError summary(const Seen& seen, Corrected corrected) {
    AmountError out;
    const double common = seen.common * seen.common;
    double mean_variance = seen.mean_variance;
    double within = seen.within;
    double between = seen.between;
    if (corrected == Corrected::none) out.mean.value = seen.mean;
    if (corrected == Corrected::by_certificate) {
        mean_variance = between = 0;
        within = seen.certificate;
    }
    const double total = mean_variance + common;
    out.mean.u = std::sqrt(total);
    if (mean_variance > 0) out.mean.dof = seen.mean_dof * (total / mean_variance) * (total / mean_variance);
    out.U_mean = expanded(out.mean).U;
    out.between_sd = std::sqrt(between);
    out.within_sd = std::sqrt(within);
    out.grain_sd = std::sqrt(seen.grain);
    out.rms = std::sqrt(out.mean.value * out.mean.value + common + between + within + seen.grain);
    out.beyond_trial = seen.beyond;
    return out;
}

// Share of the draws in which each kind has the smallest.
std::vector<double> smallest(const std::vector<Draws::Drawn>& drawn) {
    std::vector<double> out(drawn.size(), 0);
    for (std::size_t i = 0; i < static_cast<std::size_t>(draws); ++i) {
        std::size_t best = 0;
        for (std::size_t k = 1; k < drawn.size(); ++k)
            if (drawn[k].rms[i] < drawn[best].rms[i]) best = k;
        out[best] += 1;
    }
    for (double& share : out) share /= draws;
    return out;
}

std::vector<Seen> all_seen(const std::vector<PlacedKind>& kinds, const RainClimate& climate, Amount amount) {
    std::vector<Seen> out;
    out.reserve(kinds.size());
    for (const PlacedKind& kind : kinds) out.push_back(seen(kind, climate, amount));
    return out;
}

std::vector<Draws::Drawn> drawn_of(Draws& draw, const std::vector<Seen>& seen, Corrected corrected) {
    std::vector<Draws::Drawn> out;
    for (std::size_t k = 0; k < seen.size(); ++k) out.push_back(draw.of(k, seen[k], corrected));
    return out;
}

std::size_t smallest_rms(const std::vector<Seen>& seen, Corrected corrected) {
    std::size_t best = 0;
    for (std::size_t k = 1; k < seen.size(); ++k)
        if (summary(seen[k], corrected).rms < summary(seen[best], corrected).rms) best = k;
    return best;
}

// The same means and spreads, seen by more specimens of each kind or more runs of each specimen.
std::vector<Seen> with_specimens(std::vector<Seen> seen, int specimens) {
    for (Seen& one : seen) {
        const int now = std::max(one.specimens, specimens);
        one.mean_variance *= static_cast<double>(one.specimens) / now;
        one.dof = std::max(one.dof, now - 1.0);
    }
    return seen;
}
std::vector<Seen> with_runs(std::vector<Seen> seen, int runs) {
    for (Seen& one : seen) {
        const double by_gauges = one.between / one.specimens;
        const double by_runs = std::max(0.0, one.mean_variance - by_gauges);
        one.mean_variance = by_gauges + by_runs * one.runs_each / std::max<double>(one.runs_each, runs);
        one.certificate *= one.runs_each / std::max<double>(one.runs_each, runs);
    }
    return seen;
}

}  // namespace

PlaceResult judge_place(const std::vector<PlacedKind>& kinds, const RainClimate& climate) {
    PlaceResult out;
    out.place = climate.name;
    out.kinds.resize(kinds.size());
    Draws draw(kinds.size());
    for (std::size_t a = 0; a < amount_names.size(); ++a) {
        const std::vector<Seen> seen = all_seen(kinds, climate, static_cast<Amount>(a));
        for (std::size_t c = 0; c < corrected_names.size(); ++c) {
            const auto corrected = static_cast<Corrected>(c);
            const auto drawn = drawn_of(draw, seen, corrected);
            const auto best = smallest(drawn);
            for (std::size_t k = 0; k < kinds.size(); ++k) {
                AmountError& error = out.kinds[k][a][c];
                error = summary(seen[k], corrected);
                error.best = best[k];
                error.rms_low = quantile_of(drawn[k].rms, 0.025);
                error.rms_high = quantile_of(drawn[k].rms, 0.975);
            }
        }
    }
    return out;
}

std::vector<Duel> duels(const std::vector<PlacedKind>& kinds, const RainClimate& climate, Amount amount,
                        Corrected corrected) {
    Draws draw(kinds.size());
    const auto drawn = drawn_of(draw, all_seen(kinds, climate, amount), corrected);
    std::vector<Duel> out;
    for (std::size_t a = 0; a < kinds.size(); ++a)
        for (std::size_t b = 0; b < kinds.size(); ++b) {
            if (a == b) continue;
            Duel duel{a, b, 0, 0};
            for (std::size_t i = 0; i < static_cast<std::size_t>(draws); ++i) {
                duel.kind += (drawn[a].rms[i] < drawn[b].rms[i] ? 1.0 : 0.0) / draws;
                duel.gauge += (drawn[a].error[i] < drawn[b].error[i] ? 1.0 : 0.0) / draws;
            }
            out.push_back(duel);
        }
    return out;
}

Choice choose(const std::vector<PlacedKind>& kinds, const RainClimate& climate, Amount amount,
              Corrected corrected, double required) {
    Draws draw(kinds.size());
    const std::vector<Seen> seen = all_seen(kinds, climate, amount);
    Choice out;
    out.kind = smallest_rms(seen, corrected);
    const auto probability = [&](const std::vector<Seen>& what) {
        return smallest(drawn_of(draw, what, corrected))[out.kind];
    };
    out.probability = probability(seen);
    out.supported = out.probability >= required;
    if (out.supported) return out;
    // Upwards in steps of about a tenth: between two such numbers the probability says no more than its
    // draws.
    int fewest = most_specimens;
    for (const Seen& one : seen) fewest = std::min(fewest, one.specimens);
    for (int m = fewest + 1; m <= most_specimens; m += std::max(1, m / 10)) {
        if (probability(with_specimens(seen, m)) < required) continue;
        out.specimens = m;
        break;
    }
    double runs_now = most_runs;
    for (const Seen& one : seen) runs_now = std::min(runs_now, one.runs_each);
    for (int r = static_cast<int>(runs_now) + 1; r <= most_runs; r += std::max(1, r / 10)) {
        if (probability(with_runs(seen, r)) < required) continue;
        out.runs = r;
        break;
    }
    return out;
}

}  // namespace tipwright::calib::trial
