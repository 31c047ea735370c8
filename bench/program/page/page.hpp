// page: serves what a browser beside the bench shows, until Ctrl-C. Its end ends no run.
#pragma once

#include "bench/program/command.hpp"

namespace tipwright::program {

void add_page(CommandLine& line);

}  // namespace tipwright::program
