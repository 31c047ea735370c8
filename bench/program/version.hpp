// The program's version, as it stands in records and certificates.
#pragma once

namespace tipwright::program {

const char* version();

}  // namespace tipwright::program
