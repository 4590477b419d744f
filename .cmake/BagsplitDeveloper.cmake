# Flags for those who work on bagsplit. Linked PRIVATE through $<BUILD_INTERFACE:...>, so never exported.
add_library(bagsplit_developer INTERFACE)
target_compile_options(bagsplit_developer INTERFACE
  -Wall -Wextra -Wpedantic -Wshadow -Wconversion -Wsign-conversion -Wold-style-cast -Wdouble-promotion
  $<$<CXX_COMPILER_ID:GNU>:-Wduplicated-cond -Wlogical-op>)
if(BAGSPLIT_WERROR)
  target_compile_options(bagsplit_developer INTERFACE -Werror)
endif()
if(BAGSPLIT_SANITIZE)
  target_compile_options(bagsplit_developer INTERFACE
    -fsanitize=${BAGSPLIT_SANITIZE} -fno-sanitize-recover=all -fno-omit-frame-pointer)
  target_link_options(bagsplit_developer INTERFACE -fsanitize=${BAGSPLIT_SANITIZE})
endif()
