# Lines that tests reach: tests/coverage.sh reads what the programs write.
set(CMAKE_BUILD_TYPE Debug CACHE STRING "")
set(CMAKE_CXX_FLAGS_DEBUG "-O0 --coverage -fprofile-update=atomic" CACHE STRING "")
set(TIPWRIGHT_WERROR OFF CACHE BOOL "")
