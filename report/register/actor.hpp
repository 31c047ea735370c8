// Who writes to the register, apart from all that is written.
#pragma once

#include <string>

namespace tipwright::report {

// Who does it, and when: "2031-05-04T10:11:12Z". The register has no clock of its own.
struct Actor {
    std::string person;
    std::string now;
    bool logged_in = false;  // by their passphrase; only Register::log_in() says so
};

}  // namespace tipwright::report
