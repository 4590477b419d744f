# The packages are headers only. This compiler brings a C library of its own, so that of /usr/include must not be seen:
# the folders are linked into one of our own.
set(_headers ${CMAKE_BINARY_DIR}/headers)
foreach(_package IN ITEMS "Eigen3::Eigen|Eigen|Eigen/Core" "Boost::headers|boost|boost/version.hpp"
    "nlohmann_json::nlohmann_json|nlohmann|nlohmann/json.hpp" "CLI11::CLI11|CLI|CLI/CLI.hpp")
  string(REPLACE "|" ";" _package "${_package}")
  list(POP_FRONT _package _target _folder _file)
  find_path(BAGSPLIT_HEADERS_${_folder} ${_file} PATHS /usr/include /usr/local/include PATH_SUFFIXES eigen3
    NO_CMAKE_FIND_ROOT_PATH)
  if(BAGSPLIT_HEADERS_${_folder})
    file(MAKE_DIRECTORY ${_headers})
    file(CREATE_LINK ${BAGSPLIT_HEADERS_${_folder}}/${_folder} ${_headers}/${_folder} SYMBOLIC)
    add_library(${_target} INTERFACE IMPORTED GLOBAL)
    target_include_directories(${_target} SYSTEM INTERFACE ${_headers})
  endif()
endforeach()
