# For every day: warnings are errors, assertions on, nothing optimised away.
# cmake -C .cmake/dev.cmake -S . -B build/dev
set(CMAKE_BUILD_TYPE Debug CACHE STRING "")
set(BAGSPLIT_BUILD_TESTS ON CACHE BOOL "")
set(BAGSPLIT_BUILD_BENCH OFF CACHE BOOL "")
set(BAGSPLIT_WERROR ON CACHE BOOL "")
set(BAGSPLIT_ASSERTIONS ON CACHE BOOL "")
