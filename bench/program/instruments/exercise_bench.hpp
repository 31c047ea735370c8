// Every instrument of a bench exercised once: asked who it is, the balance watched, a little water pumped,
// the contacts moved.
#pragma once

#include "bench/program/instruments/check_table.hpp"
#include "bench/program/instruments/workbench.hpp"

namespace tipwright::program {

struct ExerciseOptions {
    double balance_s = 60;  // how long the balance is watched
    double flow_mL_min = 60;
    double volume_mL = 30;
    bool without_water = false;
    bool without_contacts = false;
};

// What is found goes into the table; `pump_limit_s`: the pump's own time limit, once it is armed; 0: none.
// Faults: where no water may flow any more.
bench::Task<Outcome> exercise_bench(const ExerciseOptions& options, Workbench& work, CheckTable& table,
                                    double& pump_limit_s);

}  // namespace tipwright::program
