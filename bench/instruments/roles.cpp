#include "bench/instruments/roles.hpp"

namespace tipwright::bench {

Task<Result<std::string>> Instrument::identify() {
    co_return Fault{FaultCode::inconsistent, "its profile has no entry for the question who it is", name(),
                    "read its type plate"};
}

}  // namespace tipwright::bench
