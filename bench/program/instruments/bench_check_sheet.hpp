// What a check of a bench found as a page (PDF), to be signed and hung beside it.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "bench/program/command.hpp"
#include "bench/program/instruments/check_table.hpp"
#include "bench/program/instruments/workbench.hpp"

namespace tipwright::program {

struct BenchCheckSheet {
    std::filesystem::path out;  // empty: none is wanted
    std::string made_by;
    std::string language = "en";
    std::string paper = "A4";
};

struct BenchCheckFound {
    const CheckTable& table;
    const std::vector<std::string>& accepted;
    std::string failed;              // empty: all is well
    double pump_stops_itself_s = 0;  // 0: it never does
};

void add_sheet(Subcommand command, BenchCheckSheet& sheet);
// Before any water. Faults: those of the words and fonts, and of names that the font cannot write.
Outcome ready_to_write(const CommonOptions& common, const BenchCheckSheet& sheet);
// Nothing where none is wanted. Faults: those of drawing and writing.
Outcome write_sheet(const CommonOptions& common, const BenchCheckSheet& sheet, const Workbench& work,
                    const BenchCheckFound& found);

}  // namespace tipwright::program
