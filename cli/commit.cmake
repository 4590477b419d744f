# Writes the commit of a source tree into a header, only when it has changed. Run by the build, so that it is never stale.
# cmake -DSOURCE=top -DHEADER=file -P cli/commit.cmake
set(_commit "")
find_program(_git git)
if(_git)
  # Not the commit of some other project this one may lie within.
  execute_process(COMMAND ${_git} rev-parse --show-toplevel WORKING_DIRECTORY ${SOURCE}
    OUTPUT_VARIABLE _top OUTPUT_STRIP_TRAILING_WHITESPACE ERROR_QUIET)
  file(REAL_PATH "${SOURCE}" _source)
  if(_top)
    file(REAL_PATH "${_top}" _top)
  endif()
  if(_top STREQUAL _source)
    execute_process(COMMAND ${_git} rev-parse --short=12 HEAD WORKING_DIRECTORY ${SOURCE}
      OUTPUT_VARIABLE _commit OUTPUT_STRIP_TRAILING_WHITESPACE ERROR_QUIET)
    execute_process(COMMAND ${_git} diff --quiet HEAD -- lib cli data CMakeLists.txt WORKING_DIRECTORY ${SOURCE}
      RESULT_VARIABLE _changed OUTPUT_QUIET ERROR_QUIET)
    if(_commit AND NOT _changed EQUAL 0)
      string(APPEND _commit ", changed")
    endif()
  endif()
endif()
set(_text "#pragma once\n#define BAGSPLIT_COMMIT \"${_commit}\"\n")
set(_old "")
if(EXISTS ${HEADER})
  file(READ ${HEADER} _old)
endif()
if(NOT _text STREQUAL _old)
  file(WRITE ${HEADER} "${_text}")
endif()
