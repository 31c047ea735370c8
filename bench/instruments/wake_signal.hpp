// The signal with which this program wakes its own threads out of a wait in a driver: it means nothing to
// anybody else, and ends nothing.
#pragma once

#include <signal.h>

namespace tipwright::bench {

inline int wake_signal_number() {
    return SIGRTMIN + 5;
}

}  // namespace tipwright::bench
