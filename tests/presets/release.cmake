# What is shipped: the program alone, warnings do not stop the build.
set(CMAKE_BUILD_TYPE Release CACHE STRING "")
set(TIPWRIGHT_WERROR OFF CACHE BOOL "")
set(TIPWRIGHT_TESTS OFF CACHE BOOL "")
