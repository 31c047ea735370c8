// Options that the commands of certificates share.
#pragma once

#include "bench/program/budgets_option.hpp"
#include "bench/program/register/maker.hpp"
#include "bench/program/register/session_options.hpp"

namespace tipwright::program {

inline constexpr const char* default_bench = "B1";

inline void add_layout(Subcommand command, Layout& layout) {
    command.add_option("--language", layout.language, "Language: en, de, fr, es, or a words file")
        .show_default()
        .group("Layout");
    add_paper(command, layout);
    add_budgets(command, layout);
    command.add_option("--letterhead", layout.letterhead, "Head and foot of the laboratory's paper")
        .environment("TIPWRIGHT_LETTERHEAD")
        .type_name("FILE.toml")
        .group("Layout");
    command
        .add_option("--country", layout.country,
                    "Country of the laboratory, for the DCC (default: that of the letterhead)")
        .environment("TIPWRIGHT_COUNTRY")
        .type_name("CC")
        .group("Layout");
}

inline void add_bench_code(Subcommand command, std::string& bench) {
    command
        .add_option("--bench-code", bench,
                    "Code of the bench in certificate numbers: 1 to 8 capital letters or digits")
        .environment("TIPWRIGHT_BENCH_CODE")
        .show_default();
}

inline void add_check_gauge(Subcommand command, std::string& serial) {
    command
        .add_option(
            "--check-gauge", serial,
            "Serial number of the laboratory's check gauge: nothing is issued while it is out of control")
        .environment("TIPWRIGHT_CHECK_GAUGE")
        .type_name("SERIAL");
}

}  // namespace tipwright::program
