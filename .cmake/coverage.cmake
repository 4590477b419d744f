# Which lines the tests run. After ctest: cmake --build build/coverage --target coverage_report
# cmake -C .cmake/coverage.cmake -S . -B build/coverage
set(CMAKE_BUILD_TYPE Debug CACHE STRING "")
set(CMAKE_CXX_FLAGS_DEBUG "-O0 -g" CACHE STRING "")
set(BAGSPLIT_BUILD_TESTS ON CACHE BOOL "")
set(BAGSPLIT_BUILD_BENCH OFF CACHE BOOL "")
set(BAGSPLIT_WERROR OFF CACHE BOOL "")
set(BAGSPLIT_COVERAGE ON CACHE BOOL "")
