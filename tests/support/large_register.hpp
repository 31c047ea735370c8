// A register of many certificates over ten years, to ask and to migrate: four benches, a quarter as many
// gauges, 2000 customers. Loaded by SQL past the guards, which are put back; its rows are as long as real
// ones. SQLite only.
#pragma once

#include <string>

namespace tipwright::test {

// As the program of that schema left it; 0: of this program's. Ends the program when it cannot be made.
void make_large_register(const std::string& location, long certificates, int schema_version = 0);

}  // namespace tipwright::test
