# AddressSanitizer and UndefinedBehaviorSanitizer, which lines are reached, and the fuzz targets: one build for tests/sanitized.sh,
# tests/coverage.sh and tests/fuzz.sh.
include(${CMAKE_CURRENT_LIST_DIR}/coverage.cmake)
set(TIPWRIGHT_SANITIZE ON CACHE BOOL "")
set(TIPWRIGHT_FUZZ ON CACHE BOOL "")
