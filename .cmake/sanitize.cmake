# cmake -C .cmake/sanitize.cmake -S . -B build/sanitize
set(CMAKE_BUILD_TYPE RelWithDebInfo CACHE STRING "")
set(BAGSPLIT_BUILD_TESTS ON CACHE BOOL "")
set(BAGSPLIT_WERROR OFF CACHE BOOL "")
set(BAGSPLIT_SANITIZE "address,undefined" CACHE STRING "")
