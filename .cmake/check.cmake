# What tests/run.sh builds: optimised as a user's copy is, but with assertions.
# cmake -C .cmake/check.cmake -S . -B build/check
set(CMAKE_BUILD_TYPE Release CACHE STRING "")
set(CMAKE_CXX_FLAGS_RELEASE "-O2" CACHE STRING "Optimised, without -DNDEBUG")
set(BAGSPLIT_BUILD_TESTS ON CACHE BOOL "")
set(BAGSPLIT_BUILD_BENCH OFF CACHE BOOL "")
set(BAGSPLIT_ASSERTIONS ON CACHE BOOL "")
