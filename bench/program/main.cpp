#include "bench/program/command_line.hpp"

int main(int argc, char** argv) {
    return static_cast<int>(tipwright::program::run_program(argc, argv));
}
