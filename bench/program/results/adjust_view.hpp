// What adjust says: the stop screws, the curve before and after against the limits, and what came.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <vector>

#include "bench/descriptions/adjustment.hpp"
#include "calib/decision/adjustment.hpp"
#include "calib/decision/side_balance.hpp"
#include "report/record/record.hpp"

namespace tipwright::program {

struct AdjustView {
    const report::Record& record;
    const calib::AdjustmentAdvice& advice;
    const std::optional<calib::ScrewSensitivity>& sensitivity;
    const bench::StopScrews& screws;
    bool sides_known = false;
};

void print_advice(const AdjustView& view);
nlohmann::ordered_json advice_for_machines(const AdjustView& view);
void print_checks(const std::vector<calib::PredictionCheck>& checks);
// Are the compartments alike now? With the change, and the turns where they are known, that would set them
// so.
void print_balance(const AdjustView& view, const calib::SideBalance& balance);
// A and B are named only where the run that was measured so knows which side is which.
nlohmann::ordered_json balance_for_machines(const calib::SideBalance& balance, bool left_known,
                                            bool found_known);

}  // namespace tipwright::program
