#include "bench/instruments/interpret.hpp"

namespace tipwright::bench {

std::unique_ptr<Interpreter> make_interpreter(const InstrumentProfile& profile) {
    return profile.family->make_interpreter(profile.role);
}

}  // namespace tipwright::bench
