# As installed: optimised, no assertions; warnings are errors.
# cmake -C .cmake/release.cmake -S . -B build/release
set(CMAKE_BUILD_TYPE Release CACHE STRING "")
set(BAGSPLIT_BUILD_TESTS ON CACHE BOOL "")
set(BAGSPLIT_BUILD_BENCH OFF CACHE BOOL "")
set(BAGSPLIT_WERROR ON CACHE BOOL "")
