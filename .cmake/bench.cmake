# Optimised, with the benchmarks (needs Google Benchmark).
# cmake -C .cmake/bench.cmake -S . -B build/bench
set(CMAKE_BUILD_TYPE Release CACHE STRING "")
set(BAGSPLIT_BUILD_TESTS ON CACHE BOOL "")
set(BAGSPLIT_BUILD_BENCH ON CACHE BOOL "")
set(BAGSPLIT_WERROR ON CACHE BOOL "")
