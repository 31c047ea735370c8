// What is said of a command line that cannot be read: what is missing, in the words of its help, and where to
// look or what may be set once instead.
#pragma once

#include "calib/base/fault.hpp"

namespace CLI {
class App;
class ParseError;
}  // namespace CLI

namespace tipwright::program {

// `app` has read as much of it as it could.
Fault unreadable_command_line(const CLI::App& app, const CLI::ParseError& error);

}  // namespace tipwright::program
