#include "bench/program/run/lane_results.hpp"

#include <new>
#include <system_error>
#include <utility>

#include "bench/program/results/evaluate_journal.hpp"

namespace tipwright::program {

namespace {

LaneEnd results_of(const CommonOptions& common, const OutcomeOptions& options) {
    LaneEnd end;
    RecordOptions record_options;
    record_options.state = options.as_left ? report::State::as_left : report::State::as_found;
    const auto record = record_of_journal(options.folder / journal_name, record_options);
    if (!record) {
        end.fault = record.fault();
        return end;
    }
    auto files = write_results(common, *record, options.folder, options.paper);
    if (!files) {
        end.fault = files.fault();
        return end;
    }
    const calib::Verdict overall = record->evaluation.conformity.overall;
    end.verdict = overall == calib::Verdict::no_limit ? "no limit" : std::string(name_of(overall));
    end.files = std::move(*files);
    return end;
}

LaneEnd results_or_why_not(const CommonOptions& common, const OutcomeOptions& options) {
    std::string lacks;
    try {
        return results_of(common, options);
    } catch (const std::bad_alloc&) {
        lacks = "memory";
    } catch (const std::system_error& error) {
        lacks = error.code().message();
    }
    LaneEnd end;
    end.fault =
        Fault{FaultCode::not_permitted, "the machine did not let its results be computed (" + lacks + ")",
              options.folder.string(),
              "the run is complete and kept: give the program more memory, then tipwright evaluate " +
                  (options.folder / journal_name).string() + " --out " + options.folder.string()};
    return end;
}

}  // namespace

std::future<LaneEnd> compute_beside(const CommonOptions& common, OutcomeOptions options) {
    const auto compute = [&common, options = std::move(options)] {
        return results_or_why_not(common, options);
    };
    try {
        return std::async(std::launch::async, compute);
    } catch (const std::system_error&) {
        // No thread is to be had. Later: other lanes' water runs.
        return std::async(std::launch::deferred, compute);
    }
}

}  // namespace tipwright::program
