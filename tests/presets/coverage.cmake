# Lines that tests reach: tests/coverage.sh reads what the programs write.
set(CMAKE_C_COMPILER clang CACHE STRING "")
set(CMAKE_CXX_COMPILER clang++ CACHE STRING "")
set(CMAKE_BUILD_TYPE Debug CACHE STRING "")
set(CMAKE_CXX_FLAGS_DEBUG "-O0 -gline-tables-only -fprofile-instr-generate -fcoverage-mapping" CACHE STRING "")
set(TIPWRIGHT_WERROR ON CACHE BOOL "")
