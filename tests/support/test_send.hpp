// The right to send for tests of single links: for the far end of a link, and for what is no instrument.
#pragma once

#include "bench/links/send_right.hpp"

namespace tipwright::bench {

class TestSend {
public:
    static SendRight right() { return {}; }
};

}  // namespace tipwright::bench
