#include "report/record/record_checks.hpp"

#include "calib/base/dates.hpp"

namespace tipwright::report {

std::optional<Fault> check_results(const Record& record) {
    const std::string where = "record " + visible(record.number);
    const auto& steps = record.evaluation.steps;
    if (steps.empty())
        return Fault{FaultCode::inconsistent,
                     "the record has no result" +
                         (record.end_reason.empty() ? std::string() : ": " + visible(record.end_reason)),
                     where, "calibrate at least at one step"};
    for (const calib::StepResult& step : steps)
        if (!(step.error_expanded.k > 0) || !(step.volume_per_tip_mL.value > 0))
            return Fault{FaultCode::inconsistent,
                         step.observation.name() + " has no uncertainty or no volume", where,
                         "evaluate the observations again"};
    return std::nullopt;
}

std::optional<Fault> check_some_stated(const Record& record) {
    if (record.statement.results != calib::Claim::not_stated) return std::nullopt;
    return Fault{FaultCode::not_permitted, "nothing can be stated: every step is doubted",
                 "record " + visible(record.number), "mend what the findings name, and calibrate anew"};
}

std::optional<Fault> check_pair(const Record& as_left, const Record& as_found) {
    const std::string where = "record " + visible(as_found.number);
    if (auto fault = check_results(as_left)) return fault;
    if (auto fault = check_results(as_found)) return fault;
    if (as_left.state != State::as_left || as_found.state != State::as_found)
        return Fault{FaultCode::inconsistent,
                     "a certificate of both states needs a record as left and one as found", where,
                     "give them in these states"};
    if (as_found.identity.serial != as_left.identity.serial)
        return Fault{FaultCode::inconsistent,
                     "as found is gauge " + in_quotes(as_found.identity.serial) + ", as left is gauge " +
                         in_quotes(as_left.identity.serial),
                     where, "give two records of the same gauge"};
    const auto timed = [](const Record& record) {
        return record.evaluation.steps.front().flow_mL_min.has_value();
    };
    if (timed(as_left) != timed(as_found))
        return Fault{FaultCode::inconsistent, "one record is a static check, the other is not", where,
                     "calibrate in the same way before and after adjustment"};
    return std::nullopt;
}

bool begins_with_date(std::string_view iso) {
    return is_iso_date(iso.substr(0, 10));
}

}  // namespace tipwright::report
