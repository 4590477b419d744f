# clang-tidy (rules in .clang-tidy) on each file of lib/ and cli/ as it is compiled; a finding is an error.
# cmake -C .cmake/tidy.cmake -S . -B build/tidy
set(CMAKE_BUILD_TYPE Debug CACHE STRING "")
set(BAGSPLIT_BUILD_TESTS OFF CACHE BOOL "")
set(BAGSPLIT_BUILD_BENCH OFF CACHE BOOL "")
set(BAGSPLIT_WERROR OFF CACHE BOOL "")
find_program(BAGSPLIT_CLANG_TIDY NAMES clang-tidy REQUIRED)
# The flags are gcc's; clang-tidy should not stumble over those that clang does not know.
set(CMAKE_CXX_CLANG_TIDY "${BAGSPLIT_CLANG_TIDY};--quiet;--extra-arg=-Wno-unknown-warning-option" CACHE STRING "")
