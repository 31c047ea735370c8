#include "bench/program/version.hpp"

namespace tipwright::program {

const char* version() {
    return TIPWRIGHT_VERSION;
}

}  // namespace tipwright::program
