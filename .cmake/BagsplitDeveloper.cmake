# Flags for those who work on bagsplit. Linked PRIVATE through $<BUILD_INTERFACE:...>, so never exported.
add_library(bagsplit_developer INTERFACE)
target_compile_options(bagsplit_developer INTERFACE
  -Wall -Wextra -Wpedantic -Wshadow -Wconversion -Wsign-conversion -Wold-style-cast -Wdouble-promotion
  $<$<CXX_COMPILER_ID:GNU>:-Wduplicated-cond -Wlogical-op>)
# gcc 12 at -O2 and above takes assigning a literal to a std::string for an overlapping copy (its bug 105651, mended in 13).
if(CMAKE_CXX_COMPILER_ID STREQUAL "GNU" AND CMAKE_CXX_COMPILER_VERSION VERSION_LESS 13)
  target_compile_options(bagsplit_developer INTERFACE -Wno-restrict)
endif()
if(BAGSPLIT_WERROR)
  target_compile_options(bagsplit_developer INTERFACE -Werror)
endif()
if(BAGSPLIT_ASSERTIONS)
  target_compile_definitions(bagsplit_developer INTERFACE _GLIBCXX_ASSERTIONS)
endif()

# What a program that links an instrumented library must itself be built with; a test of the installed copy passes it on.
set(BAGSPLIT_INSTRUMENT_FLAGS "")
if(BAGSPLIT_SANITIZE)
  list(APPEND BAGSPLIT_INSTRUMENT_FLAGS -fsanitize=${BAGSPLIT_SANITIZE})
  target_compile_options(bagsplit_developer INTERFACE -fno-sanitize-recover=all -fno-omit-frame-pointer)
endif()
if(BAGSPLIT_COVERAGE)
  list(APPEND BAGSPLIT_INSTRUMENT_FLAGS --coverage)
endif()
target_compile_options(bagsplit_developer INTERFACE ${BAGSPLIT_INSTRUMENT_FLAGS})
target_link_options(bagsplit_developer INTERFACE ${BAGSPLIT_INSTRUMENT_FLAGS})

if(BAGSPLIT_COVERAGE)
  find_program(BAGSPLIT_GCOV NAMES gcov-${CMAKE_CXX_COMPILER_VERSION} gcov REQUIRED)
  add_custom_target(coverage_report
    COMMAND ${CMAKE_COMMAND} -DGCOV=${BAGSPLIT_GCOV} -DBUILD=${PROJECT_BINARY_DIR} -DSOURCE=${PROJECT_SOURCE_DIR}
            -P ${CMAKE_CURRENT_LIST_DIR}/coverage_report.cmake
    COMMENT "Lines run by the tests so far" VERBATIM)
endif()
