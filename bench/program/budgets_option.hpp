// --budgets: whose uncertainty budgets a certificate's annex shows.
#pragma once

#include "bench/program/subcommand.hpp"

namespace tipwright::program {

template <class Options>
void add_budgets(Subcommand command, Options& options) {
    command
        .add_option(
            "--budgets", options.budgets,
            "Uncertainty budgets in the annex: of the step with the largest uncertainty, or of all steps")
        .one_of({"largest", "all"})
        .show_default();
}

}  // namespace tipwright::program
