// Unguarded right: sends a person's own bytes to an instrument that no profile here can stop. The person must
// have said that it is no pump, or which bytes stop it; the latter go out by the supervision that the link
// was given to, whatever ends the program.
#pragma once

#include <cstddef>
#include <span>

#include "bench/links/link.hpp"

namespace tipwright::bench {

class UnguardedRight {
public:
    static UnguardedRight to_no_pump() { return {}; }
    static UnguardedRight to_what_is_stopped() { return {}; }

    Task<Outcome> send(Link& link, std::span<const std::byte> bytes) const {
        return link.write(SendRight(), bytes);
    }

private:
    UnguardedRight() = default;
};

}  // namespace tipwright::bench
