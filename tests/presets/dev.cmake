# Quick to build again after a change: each file alone; warnings are errors: cmake -C tests/presets/dev.cmake -S . -B build/dev -G Ninja
set(CMAKE_BUILD_TYPE Release CACHE STRING "")
set(CMAKE_CXX_FLAGS_RELEASE "-O1 -DNDEBUG" CACHE STRING "")
set(TIPWRIGHT_WERROR ON CACHE BOOL "")
set(CMAKE_UNITY_BUILD OFF CACHE BOOL "")
