# Installs the built tree, moves the copy, and lets a project of its own configure, build and run against it.
#   -DBUILD=<build tree> -DWORK=<scratch folder> -DSOURCE=<consumer> -DGENERATOR= -DMAKE= -DCXX= -DFLAGS= -DCONFIG= -DROOT=<project>
cmake_policy(VERSION 3.25)

function(run what)
  execute_process(COMMAND ${ARGN} OUTPUT_VARIABLE out ERROR_VARIABLE out RESULT_VARIABLE code)
  if(NOT code EQUAL 0)
    message(FATAL_ERROR "${what} failed (${code}):\n${out}")
  endif()
endfunction()

file(REMOVE_RECURSE ${WORK})
run("install" ${CMAKE_COMMAND} --install ${BUILD} --prefix ${WORK}/first)
# A copy that was moved must still work: nothing in it may remember where it was made.
file(RENAME ${WORK}/first ${WORK}/moved)

file(GLOB_RECURSE descriptions ${WORK}/moved/*.cmake)
if(NOT descriptions)
  message(FATAL_ERROR "no CMake package was installed")
endif()
foreach(description IN LISTS descriptions)
  file(READ ${description} text)
  foreach(word "${BUILD}" "${ROOT}" "boost" "nlohmann" "-Werror" "bagsplit_developer")
    string(TOLOWER "${text}" lower)
    string(TOLOWER "${word}" word)
    string(FIND "${lower}" "${word}" at)
    if(NOT at EQUAL -1)
      message(FATAL_ERROR "${description} names '${word}'")
    endif()
  endforeach()
endforeach()

# A header that another header includes must have been installed as well.
file(GLOB_RECURSE headers ${WORK}/moved/include/*.hpp)
foreach(header IN LISTS headers)
  file(STRINGS ${header} includes REGEX "^#include [\"<]bagsplit/")
  foreach(include IN LISTS includes)
    string(REGEX REPLACE "^#include [\"<]([^\">]+).*" "\\1" name "${include}")
    if(NOT EXISTS ${WORK}/moved/include/${name})
      message(FATAL_ERROR "${header} includes ${name}, which is not installed: name it under HEADERS in its sources.cmake")
    endif()
  endforeach()
endforeach()

# Eigen and threads are all that a user of the library needs: the rest must not even be looked for.
run("configure of the consumer" ${CMAKE_COMMAND} -S ${SOURCE} -B ${WORK}/build -G ${GENERATOR}
  -DCMAKE_MAKE_PROGRAM=${MAKE} -DCMAKE_CXX_COMPILER=${CXX} -DCMAKE_CXX_FLAGS=${FLAGS} -DCMAKE_BUILD_TYPE=${CONFIG}
  -DCMAKE_PREFIX_PATH=${WORK}/moved -DCMAKE_FIND_USE_PACKAGE_REGISTRY=OFF
  -DCMAKE_DISABLE_FIND_PACKAGE_Boost=ON -DCMAKE_DISABLE_FIND_PACKAGE_nlohmann_json=ON -DCMAKE_DISABLE_FIND_PACKAGE_CLI11=ON)
run("build of the consumer" ${CMAKE_COMMAND} --build ${WORK}/build)
file(WRITE ${WORK}/five.csv "# base-distance: 60 ft\ndate,player,course,timer,first,second,third,home\n"
  "2026-04-11,12,circuit,AK,4.05,8.02,12.10,16.31\n2026-04-11,7,circuit,AK,3.92,7.75,11.80,15.70\n"
  "2026-04-11,12,circuit,AK,4.11,8.15,12.22,16.36\n")
execute_process(COMMAND ${WORK}/build/consumer ${WORK}/five.csv OUTPUT_VARIABLE told COMMAND_ERROR_IS_FATAL ANY)
if(NOT told MATCHES "^7,[0-9.]+\n12,[0-9.]+\n$")
  message(FATAL_ERROR "the consumer said:\n${told}")
endif()
if(EXISTS ${BUILD}/cli)
  # Identity: the library's answer is the command's.
  execute_process(COMMAND ${WORK}/moved/bin/bagsplit profile ${WORK}/five.csv --format csv OUTPUT_VARIABLE rows ERROR_QUIET
    COMMAND_ERROR_IS_FATAL ANY)
  string(REGEX MATCHALL "\n[0-9]+,,,[0-9]+,0,top_speed_mps,[^,]*,[^,]*,[^,]*,[0-9.]+" rows "${rows}")
  list(TRANSFORM rows REPLACE "\n([0-9]+),.*,([0-9.]+)$" "\\1,\\2\n")
  list(JOIN rows "" rows)
  if(NOT told STREQUAL rows)
    message(FATAL_ERROR "the consumer said:\n${told}the command:\n${rows}")
  endif()
endif()

# The same program without CMake, by the flags that pkg-config tells.
find_program(PKG_CONFIG pkg-config)
if(PKG_CONFIG)
  file(GLOB_RECURSE pc ${WORK}/moved/*/bagsplit.pc)
  cmake_path(GET pc PARENT_PATH folder)
  set(ENV{PKG_CONFIG_PATH} ${folder})
  execute_process(COMMAND ${PKG_CONFIG} --cflags --libs bagsplit OUTPUT_VARIABLE told COMMAND_ERROR_IS_FATAL ANY OUTPUT_STRIP_TRAILING_WHITESPACE)
  separate_arguments(told UNIX_COMMAND "${told}")
  separate_arguments(instrument UNIX_COMMAND "${FLAGS}")
  run("build by pkg-config" ${CXX} ${instrument} ${SOURCE}/main.cpp -o ${WORK}/by_pkg_config ${told})
  run("the program built by pkg-config" ${WORK}/by_pkg_config)
endif()
if(EXISTS ${BUILD}/cli/bagsplit.1)
  foreach(page share/man/man1/bagsplit.1.gz share/bash-completion/completions/bagsplit share/zsh/vendor-completions/_bagsplit
               share/fish/vendor_completions.d/bagsplit.fish share/doc/bagsplit/copyright)
    if(NOT EXISTS ${WORK}/moved/${page})
      message(FATAL_ERROR "${page} was not installed")
    endif()
  endforeach()
endif()
