bagsplit_module(builtin
  SOURCES
    builtin.cpp
  HEADERS
    builtin.hpp)
# The data files the library itself needs are compiled into it, so that a built command needs no folder beside it and
# carries no path of the machine it was built on.
file(GLOB_RECURSE _files CONFIGURE_DEPENDS RELATIVE ${PROJECT_SOURCE_DIR}/data
  ${PROJECT_SOURCE_DIR}/data/norms/*.csv ${PROJECT_SOURCE_DIR}/data/norms/*.json
  ${PROJECT_SOURCE_DIR}/data/devices/*.json ${PROJECT_SOURCE_DIR}/data/courses/*.json
  ${PROJECT_SOURCE_DIR}/data/models/*.json)
set(_paths ${_files})
list(TRANSFORM _paths PREPEND ${PROJECT_SOURCE_DIR}/data/)
set(_out ${CMAKE_CURRENT_BINARY_DIR}/builtin_data.cpp)
add_custom_command(OUTPUT ${_out}
  COMMAND ${CMAKE_COMMAND} -DOUT=${_out} -DROOT=${PROJECT_SOURCE_DIR}/data "-DFILES=${_files}"
          -P ${PROJECT_SOURCE_DIR}/lib/bagsplit/builtin/embed.cmake
  DEPENDS ${_paths} ${PROJECT_SOURCE_DIR}/lib/bagsplit/builtin/embed.cmake VERBATIM)
target_sources(bagsplit PRIVATE ${_out})
# A file is one literal; gcc and clang take any length.
set_source_files_properties(${_out} PROPERTIES COMPILE_OPTIONS -Wno-overlength-strings)
