// --budgets: whose uncertainty budgets a certificate's annex shows.
#pragma once

#include <CLI/CLI.hpp>

namespace tipwright::program {

template <class Options>
void add_budgets(CLI::App& command, Options& options) {
    command
        .add_option(
            "--budgets", options.budgets,
            "Uncertainty budgets in the annex: of the step with the largest uncertainty, or of all steps")
        ->check(CLI::IsMember({"largest", "all"}))
        ->capture_default_str();
}

}  // namespace tipwright::program
