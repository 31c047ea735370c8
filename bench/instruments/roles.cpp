#include "bench/instruments/roles.hpp"

namespace tipwright::bench {

Fault unidentified(const std::string& name) {
    return {FaultCode::inconsistent, "its profile has no entry for the question who it is", name,
            "read its type plate"};
}

Task<Result<std::string>> Instrument::identify() {
    co_return unidentified(name());
}

}  // namespace tipwright::bench
