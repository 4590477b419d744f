# Thread sanitizer, for the code that splits work over threads.
# cmake -C .cmake/tsan.cmake -S . -B build/tsan
set(CMAKE_BUILD_TYPE RelWithDebInfo CACHE STRING "")
set(CMAKE_CXX_FLAGS_RELWITHDEBINFO "-O1 -g" CACHE STRING "Without -DNDEBUG")
set(BAGSPLIT_BUILD_TESTS ON CACHE BOOL "")
set(BAGSPLIT_BUILD_BENCH OFF CACHE BOOL "")
set(BAGSPLIT_WERROR OFF CACHE BOOL "")
set(BAGSPLIT_SANITIZE "thread" CACHE STRING "")
