# libFuzzer with the address and undefined-behaviour sanitizers; clang.
# cmake -C .cmake/fuzz.cmake -S . -B build/fuzz    then tests/fuzz/run.sh
find_program(CMAKE_CXX_COMPILER NAMES clang++ clang++-16 clang++-15 clang++-14 REQUIRED)
set(CMAKE_BUILD_TYPE RelWithDebInfo CACHE STRING "")
set(CMAKE_CXX_FLAGS_RELWITHDEBINFO "-O1 -gline-tables-only" CACHE STRING "Without -DNDEBUG")
set(BAGSPLIT_BUILD_TESTS ON CACHE BOOL "")
set(BAGSPLIT_BUILD_BENCH OFF CACHE BOOL "")
set(BAGSPLIT_BUILD_FUZZ ON CACHE BOOL "")
set(BAGSPLIT_ASSERTIONS ON CACHE BOOL "")
set(BAGSPLIT_SANITIZE "fuzzer-no-link,address,undefined" CACHE STRING "")
