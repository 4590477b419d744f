# Address and undefined-behaviour sanitizers in the library, the command and the tests; the first finding ends the program.
# Not -Werror: gcc 12 warns falsely (-Wmaybe-uninitialized) in instrumented code.
# cmake -C .cmake/sanitize.cmake -S . -B build/sanitize
set(CMAKE_BUILD_TYPE RelWithDebInfo CACHE STRING "")
set(CMAKE_CXX_FLAGS_RELWITHDEBINFO "-O1 -g" CACHE STRING "Without -DNDEBUG")
set(BAGSPLIT_BUILD_TESTS ON CACHE BOOL "")
set(BAGSPLIT_BUILD_BENCH OFF CACHE BOOL "")
set(BAGSPLIT_WERROR OFF CACHE BOOL "")
set(BAGSPLIT_ASSERTIONS ON CACHE BOOL "")
set(BAGSPLIT_SANITIZE "address,undefined" CACHE STRING "")
