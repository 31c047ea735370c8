#include "bench/links/link.hpp"

namespace tipwright::bench {

Task<Outcome> Link::reopen() {
    co_return Fault{FaultCode::link_lost, "this link cannot be opened again", name(), ""};
}

}  // namespace tipwright::bench
