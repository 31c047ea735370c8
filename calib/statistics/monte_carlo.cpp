#include "calib/statistics/monte_carlo.hpp"

#include <Eigen/Cholesky>
#include <algorithm>
#include <atomic>
#include <cmath>
#include <exception>
#include <limits>
#include <mutex>
#include <string>
#include <thread>

#include "calib/base/sums.hpp"
#include "calib/statistics/covariance.hpp"
#include "calib/statistics/model_inputs.hpp"

namespace tipwright::calib {

namespace {

constexpr std::size_t most_outputs = 16;
constexpr std::size_t most_trials = 100'000'000;

std::string input_name(std::size_t index) {
    return "input " + std::to_string(index + 1);
}

Outcome check_options(const MonteCarloOptions& options) {
    const auto bad = [](const std::string& what) {
        return Fault{FaultCode::bad_value, what, "Monte Carlo options", {}};
    };
    if (!(options.coverage > 0 && options.coverage < 1)) return bad("coverage is not between 0 and 1");
    if (!(options.threads >= 0 && options.threads <= 256)) return bad("threads are not 0 to 256");
    if (!(options.sequence_trials >= 100 && options.sequence_trials <= 10'000'000)) {
        return bad("a sequence has 100 to 10000000 trials");
    }
    if (!(options.max_trials >= options.sequence_trials && options.max_trials <= most_trials)) {
        return bad("trials are at least one sequence and at most " + std::to_string(most_trials));
    }
    if (!(options.significant_digits >= 1 && options.significant_digits <= 6))
        return bad("digits are not 1 to 6");
    if (!(options.tolerance_share > 0 && options.tolerance_share <= 1)) {
        return bad("tolerance share is not between 0 and 1");
    }
    for (const double tolerance : options.tolerances)
        if (!(tolerance > 0)) return bad("a tolerance is not above zero");
    return Done{};
}

Outcome check_inputs(const MonteCarloInputs& inputs, std::size_t output_count) {
    const auto& list = inputs.distributions;
    if (list.empty() || list.size() > most_inputs || output_count == 0 || output_count > most_outputs) {
        return Fault{FaultCode::bad_value,
                     std::to_string(list.size()) + " inputs and " + std::to_string(output_count) +
                         " outputs: 1 to " + std::to_string(most_inputs) + " and 1 to " +
                         std::to_string(most_outputs) + " are possible",
                     "Monte Carlo",
                     {}};
    }
    for (std::size_t i = 0; i < list.size(); ++i) {
        const InputDistribution& d = list[i];
        const bool finite = std::isfinite(d.expectation) && std::isfinite(d.scale);
        if (!finite)
            return Fault{FaultCode::not_finite, "expectation or scale is not finite", input_name(i), {}};
        if (!(d.scale >= 0)) return Fault{FaultCode::bad_value, "scale is negative", input_name(i), {}};
        if (d.shape == InputShape::student && !(d.dof >= RandomLanes::least_dof && std::isfinite(d.dof))) {
            return Fault{FaultCode::bad_value, "degrees of freedom are not 0.2 or more", input_name(i), {}};
        }
    }
    if (inputs.correlation.n == 0) return Done{};
    if (Outcome checked = check_covariance(inputs.correlation, list.size(), "correlation", "input");
        !checked) {
        return checked;
    }
    for (std::size_t i = 0; i < list.size(); ++i) {
        if (!(std::fabs(inputs.correlation(i, i) - 1) <= 1e-9)) {
            return Fault{FaultCode::bad_covariance, "correlation with itself is not 1", input_name(i), {}};
        }
        for (std::size_t j = 0; j < list.size(); ++j) {
            if (i != j && inputs.correlation(i, j) != 0 && list[i].shape != InputShape::normal) {
                return Fault{FaultCode::bad_value, "only normal inputs can be correlated", input_name(i),
                             "describe what the inputs have in common by an input of its own"};
            }
        }
    }
    return Done{};
}

// Correlated normal inputs: scale * (F z), F F' = correlation; a semidefinite F will do (6.4.8.4 note).
Eigen::MatrixXd correlation_factor(const SquareMatrix& correlation) {
    const auto n = static_cast<Eigen::Index>(correlation.n);
    Eigen::MatrixXd factor = Eigen::MatrixXd::Zero(n, n);
    for (Eigen::Index j = 0; j < n; ++j) {
        for (Eigen::Index i = j; i < n; ++i) {
            const double c = correlation(static_cast<std::size_t>(i), static_cast<std::size_t>(j));
            const double rest = c - factor.row(i).head(j).dot(factor.row(j).head(j));
            if (i == j) {
                factor(j, j) = rest > 1e-12 ? std::sqrt(rest) : 0;
            } else {
                factor(i, j) = factor(j, j) > 0 ? rest / factor(j, j) : 0;
            }
        }
    }
    return factor;
}

struct SequenceOutput {
    Sums sums;
    Interval interval;  // of the kind the rule looks at
    Tails tails;
    bool finite = true;
};
using Sequence = std::vector<SequenceOutput>;

// What one thread works with, kept from sequence to sequence; empty before its first.
struct Workspace {
    std::vector<double> inputs;
    std::vector<std::vector<double>> outputs;
};

constexpr Interval unknown_limits{std::numeric_limits<double>::infinity(),
                                  std::numeric_limits<double>::infinity()};

class Runner {
public:
    Runner(const MonteCarloInputs& inputs, std::size_t output_count, const BlockModel& model,
           const MonteCarloOptions& options)
        : inputs_(inputs),
          output_count_(output_count),
          model_(model),
          options_(options),
          limits_(output_count, unknown_limits) {
        const double needed = 100 / (1 - options.coverage);
        trials_ = std::max(options.sequence_trials, static_cast<std::size_t>(std::ceil(needed - 1e-9)));
        outside_ = values_outside(trials_, options.coverage);
        // A sequence may hold more of all trials' tail than its share: six standard deviations more.
        const auto spread = static_cast<std::size_t>(6 * std::sqrt(static_cast<double>(outside_))) + 1;
        kept_ = std::min(trials_, outside_ + spread);
        if (inputs.correlation.n != 0) factor_ = correlation_factor(inputs.correlation);
    }

    std::size_t trials() const { return trials_; }

    // Sequences first to last - 1, on as many threads as allowed.
    void run_batch(std::size_t first, std::size_t last, std::vector<Sequence>& sequences) {
        sequences.resize(last);
        if (first == 0) {
            // Where the tails begin is learnt from the first sequence; it only saves time.
            Workspace space;
            sequences[0] = run(0, space);
            for (std::size_t k = 0; k < output_count_; ++k) {
                if (sequences[0][k].finite) limits_[k] = learnt_limits(sequences[0][k].tails);
            }
            ++first;
        }
        parallel(last - first,
                 [&](std::size_t i, Workspace& space) { sequences[first + i] = run(first + i, space); });
    }

    // The intervals of all trials of these sequences together.
    std::vector<CoverageIntervals> pooled_intervals(const std::vector<Sequence>& sequences) const {
        std::vector<CoverageIntervals> intervals(output_count_);
        parallel(output_count_, [&](std::size_t k, Workspace&) { intervals[k] = pooled(sequences, k); });
        return intervals;
    }

    unsigned thread_count() const {
        return options_.threads > 0 ? static_cast<unsigned>(options_.threads)
                                    : std::max(1u, std::thread::hardware_concurrency());
    }

private:
    Sequence run(std::size_t index, Workspace& space) const {
        const std::size_t n_inputs = inputs_.distributions.size();
        space.inputs.resize(n_inputs * random_block);
        space.outputs.resize(output_count_);
        for (std::vector<double>& output : space.outputs) output.resize(trials_);
        std::vector<RandomLanes> random;
        random.reserve(n_inputs);
        std::vector<const double*> columns;
        for (std::size_t i = 0; i < n_inputs; ++i) {
            random.emplace_back(options_.seed, index, i);
            columns.push_back(space.inputs.data() + i * random_block);
        }
        std::vector<double*> outputs(output_count_);
        for (std::size_t start = 0; start < trials_; start += random_block) {
            const std::size_t count = std::min(random_block, trials_ - start);
            const std::size_t drawn = (count + random_block_step - 1) / random_block_step * random_block_step;
            for (std::size_t i = 0; i < n_inputs; ++i) {
                draw(inputs_.distributions[i], random[i],
                     std::span(space.inputs).subspan(i * random_block, drawn));
            }
            if (factor_.size() != 0) correlate(space.inputs, count);
            for (std::size_t k = 0; k < output_count_; ++k) outputs[k] = space.outputs[k].data() + start;
            model_(count, columns.data(), outputs.data());
        }

        Sequence sequence(output_count_);
        for (std::size_t k = 0; k < output_count_; ++k) {
            SequenceOutput& output = sequence[k];
            output.sums = sums_of(space.outputs[k]);
            output.finite = std::isfinite(output.sums.mean) && std::isfinite(output.sums.squares);
            if (!output.finite) continue;
            output.tails = tails_of(space.outputs[k], outside_, limits_[k].low, limits_[k].high);
            if (output.tails.low_limit != limits_[k].low || output.tails.high_limit != limits_[k].high) {
                output.tails = tails_of(space.outputs[k], kept_, unknown_limits.low, unknown_limits.high);
            }
            if (options_.adaptive) {
                output.interval = options_.stop_on == IntervalKind::symmetric
                                      ? symmetric_interval(output.tails.low, output.tails.high, outside_)
                                      : shortest_of(output.tails);
            }
        }
        return sequence;
    }

    // Where a sequence's kept_ lowest and highest values end.
    Interval learnt_limits(const Tails& tails) const {
        std::vector<double> low = tails.low;
        std::vector<double> high = tails.high;
        const auto kept = static_cast<std::ptrdiff_t>(kept_);
        std::nth_element(low.begin(), low.begin() + kept - 1, low.end());
        std::nth_element(high.begin(), high.end() - kept, high.end());
        return {*(low.begin() + kept - 1), *(high.end() - kept)};
    }

    Interval shortest_of(const Tails& tails) const {
        std::vector<double> low = tails.low;
        std::vector<double> high = tails.high;
        return intervals_from(low, high, outside_).shortest;
    }

    void correlate(std::vector<double>& storage, std::size_t count) const {
        const auto& list = inputs_.distributions;
        // From the last row up, so that what earlier rows need is still there.
        for (std::size_t i = list.size(); i-- > 0;) {
            if (list[i].shape != InputShape::normal) continue;
            double* row = storage.data() + i * random_block;
            for (std::size_t t = 0; t < count; ++t) {
                double z = 0;
                for (std::size_t j = 0; j <= i; ++j) {
                    const double f = factor_(static_cast<Eigen::Index>(i), static_cast<Eigen::Index>(j));
                    if (f == 0) continue;
                    const double drawn = storage[j * random_block + t];
                    z += f * (list[j].scale > 0 ? (drawn - list[j].expectation) / list[j].scale : 0);
                }
                row[t] = list[i].expectation + list[i].scale * z;
            }
        }
    }

    template <class Task>
    void parallel(std::size_t count, const Task& task) const {
        const std::size_t workers = std::min<std::size_t>(thread_count(), count);
        std::atomic<std::size_t> next{0};
        std::exception_ptr error;
        std::mutex error_mutex;
        const auto work = [&] {
            try {
                Workspace space;
                for (std::size_t i = next++; i < count; i = next++) task(i, space);
            } catch (...) {
                const std::lock_guard lock(error_mutex);
                error = std::current_exception();
            }
        };
        std::vector<std::thread> threads;
        for (std::size_t i = 1; i < workers; ++i) threads.emplace_back(work);
        work();
        for (std::thread& thread : threads) thread.join();
        if (error) std::rethrow_exception(error);
    }

    static std::vector<double> together(const std::vector<Sequence>& sequences, std::size_t k,
                                        std::vector<double> Tails::*side) {
        std::size_t count = 0;
        for (const Sequence& sequence : sequences) count += (sequence[k].tails.*side).size();
        std::vector<double> all;
        all.reserve(count);
        for (const Sequence& sequence : sequences) {
            const std::vector<double>& tail = sequence[k].tails.*side;
            all.insert(all.end(), tail.begin(), tail.end());
        }
        return all;
    }

    // Each sequence kept a tail a little longer than its share. Should all trials' tail reach beyond what
    // some sequence kept, that sequence is computed again and kept whole.
    CoverageIntervals pooled(const std::vector<Sequence>& sequences, std::size_t k) const {
        const std::size_t total = trials_ * sequences.size();
        const std::size_t outside = values_outside(total, options_.coverage);
        std::vector<double> low = together(sequences, k, &Tails::low);
        std::vector<double> high = together(sequences, k, &Tails::high);
        const bool enough = low.size() >= outside && high.size() >= outside;
        const CoverageIntervals intervals = enough ? intervals_from(low, high, outside) : CoverageIntervals{};
        bool complete = enough;
        for (const Sequence& sequence : sequences) {
            complete = complete && low.back() <= sequence[k].tails.low_limit &&
                       high.front() >= sequence[k].tails.high_limit;
        }
        if (complete) return intervals;
        Workspace space;
        low.clear();
        for (std::size_t i = 0; i < sequences.size(); ++i) {
            run(i, space);
            low.insert(low.end(), space.outputs[k].begin(), space.outputs[k].end());
        }
        return coverage_intervals(low, options_.coverage);
    }

    const MonteCarloInputs& inputs_;
    std::size_t output_count_;
    const BlockModel& model_;
    const MonteCarloOptions& options_;
    std::size_t trials_ = 0;
    std::size_t outside_ = 0;
    std::size_t kept_ = 0;
    std::vector<Interval> limits_;  // where the tails begin, unknown at first
    Eigen::MatrixXd factor_;
};

// Averages over sequences and the standard deviations of those averages, 7.9.4 step e to g.
class Averages {
public:
    void add(const SequenceOutput& sequence) {
        all_.add(sequence.sums);
        mean_.add({sequence.sums.mean, 0, 1});
        u_.add({sequence.sums.deviation(), 0, 1});
        low_.add({sequence.interval.low, 0, 1});
        high_.add({sequence.interval.high, 0, 1});
    }

    MonteCarloOutput report(const MonteCarloOptions& options, std::size_t k) const {
        MonteCarloOutput output;
        output.mean = all_.mean;
        output.u = all_.deviation();
        output.tolerance =
            options.tolerance_share * (k < options.tolerances.size()
                                           ? options.tolerances[k]
                                           : numerical_tolerance(output.u, options.significant_digits));
        const double root = std::sqrt(static_cast<double>(mean_.count));
        output.s_mean = mean_.deviation() / root;
        output.s_u = u_.deviation() / root;
        output.s_low = low_.deviation() / root;
        output.s_high = high_.deviation() / root;
        output.stable = mean_.count >= 2;
        for (const double s : {output.s_mean, output.s_u, output.s_low, output.s_high}) {
            output.stable = output.stable && 2 * s <= output.tolerance;
        }
        return output;
    }

private:
    Sums all_;
    Sums mean_;
    Sums u_;
    Sums low_;
    Sums high_;
};

}  // namespace

double numerical_tolerance(double u, int digits) {
    if (!(u > 0) || !std::isfinite(u)) return 0;
    auto place = static_cast<int>(std::floor(std::log10(u))) - digits + 1;
    const double figures = std::floor(u / std::pow(10.0, place) + 0.5);
    if (figures >= std::pow(10.0, digits)) ++place;
    return 0.5 * std::pow(10.0, place);
}

Result<MonteCarloResult> run_monte_carlo(const MonteCarloInputs& inputs, std::size_t output_count,
                                         const BlockModel& model, const MonteCarloOptions& options) {
    if (Outcome checked = check_options(options); !checked) return checked.fault();
    if (Outcome checked = check_inputs(inputs, output_count); !checked) return checked.fault();
    Runner runner(inputs, output_count, model, options);

    const std::size_t most = std::max<std::size_t>(options.max_trials / runner.trials(), 1);
    std::vector<Sequence> sequences;
    std::vector<Averages> averages(output_count);
    MonteCarloResult result;
    std::size_t used = 0;
    while (used < most && !result.stable) {
        // What is left over when the rule stops inside a batch is thrown away, so batches grow slowly.
        const std::size_t batch =
            options.adaptive ? std::max(std::size_t{2} * runner.thread_count(), used / 4) : most;
        runner.run_batch(used, std::min(used + batch, most), sequences);
        while (used < sequences.size() && !result.stable) {
            const Sequence& sequence = sequences[used++];
            result.outputs.clear();
            result.stable = options.adaptive && used * runner.trials() >= options.min_trials;
            for (std::size_t k = 0; k < output_count; ++k) {
                if (!sequence[k].finite) {
                    return Fault{FaultCode::not_finite, "the model gave no finite value in some trial",
                                 "output " + std::to_string(k + 1),
                                 "check the model where its inputs are far from their expectations"};
                }
                averages[k].add(sequence[k]);
                result.outputs.push_back(averages[k].report(options, k));
                result.stable = result.stable && result.outputs.back().stable;
            }
        }
    }
    sequences.resize(used);
    result.trials = used * runner.trials();
    const auto intervals = runner.pooled_intervals(sequences);
    for (std::size_t k = 0; k < output_count; ++k) result.outputs[k].intervals = intervals[k];
    if (!options.adaptive) {
        result.stable = true;
        for (const auto& output : result.outputs) result.stable = result.stable && output.stable;
    }
    return result;
}

GumValidation validate_gum(double y, double expanded_uncertainty, double u, const Interval& monte_carlo,
                           int digits) {
    GumValidation validation;
    validation.tolerance = numerical_tolerance(u, digits);
    validation.d_low = std::fabs(y - expanded_uncertainty - monte_carlo.low);
    validation.d_high = std::fabs(y + expanded_uncertainty - monte_carlo.high);
    validation.valid = validation.d_low <= validation.tolerance && validation.d_high <= validation.tolerance;
    return validation;
}

}  // namespace tipwright::calib
