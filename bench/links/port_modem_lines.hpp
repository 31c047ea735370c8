// Modem lines of an open port. Internal to this folder.
#pragma once

#include <memory>
#include <string>

#include "bench/links/modem_lines.hpp"

namespace tipwright::bench {

// The handle stays open as long as this lives.
std::unique_ptr<ModemLines> modem_lines_of(int handle, std::string name);

}  // namespace tipwright::bench
