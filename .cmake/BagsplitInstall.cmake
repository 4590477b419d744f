include(CMakePackageConfigHelpers)
# Two components, two Debian packages: the command, and the library for those who link it.
install(TARGETS bagsplit EXPORT bagsplitTargets COMPONENT library FILE_SET HEADERS COMPONENT library FILE_SET alone COMPONENT library)
install(EXPORT bagsplitTargets NAMESPACE bagsplit:: DESTINATION ${CMAKE_INSTALL_LIBDIR}/cmake/bagsplit COMPONENT library)
configure_package_config_file(${CMAKE_CURRENT_LIST_DIR}/bagsplitConfig.cmake.in
  ${PROJECT_BINARY_DIR}/bagsplitConfig.cmake INSTALL_DESTINATION ${CMAKE_INSTALL_LIBDIR}/cmake/bagsplit)
# Before 1.0 a minor version may change what is declared.
write_basic_package_version_file(${PROJECT_BINARY_DIR}/bagsplitConfigVersion.cmake COMPATIBILITY SameMinorVersion)
install(FILES ${PROJECT_BINARY_DIR}/bagsplitConfig.cmake ${PROJECT_BINARY_DIR}/bagsplitConfigVersion.cmake
  DESTINATION ${CMAKE_INSTALL_LIBDIR}/cmake/bagsplit COMPONENT library)
find_program(BAGSPLIT_GZIP gzip)
mark_as_advanced(BAGSPLIT_GZIP)
if(BAGSPLIT_BUILD_CLI)
  install(TARGETS bagsplit_cli)
  if(TARGET bagsplit_pages)
    if(BAGSPLIT_GZIP)
      add_custom_command(OUTPUT ${PROJECT_BINARY_DIR}/cli/bagsplit.1.gz
        COMMAND ${CMAKE_COMMAND} -DFROM=${PROJECT_BINARY_DIR}/cli/bagsplit.1 -DTO=${PROJECT_BINARY_DIR}/cli/bagsplit.1.gz
          -P ${CMAKE_CURRENT_LIST_DIR}/gzip.cmake
        DEPENDS bagsplit_pages ${PROJECT_BINARY_DIR}/cli/bagsplit.1 VERBATIM)
      add_custom_target(bagsplit_manual ALL DEPENDS ${PROJECT_BINARY_DIR}/cli/bagsplit.1.gz)
      install(FILES ${PROJECT_BINARY_DIR}/cli/bagsplit.1.gz DESTINATION ${CMAKE_INSTALL_MANDIR}/man1)
    else()
      install(FILES ${PROJECT_BINARY_DIR}/cli/bagsplit.1 DESTINATION ${CMAKE_INSTALL_MANDIR}/man1)
    endif()
    install(FILES ${PROJECT_BINARY_DIR}/cli/bagsplit.bash DESTINATION ${CMAKE_INSTALL_DATADIR}/bash-completion/completions RENAME bagsplit)
    install(FILES ${PROJECT_BINARY_DIR}/cli/_bagsplit DESTINATION ${CMAKE_INSTALL_DATADIR}/zsh/vendor-completions)
    install(FILES ${PROJECT_BINARY_DIR}/cli/bagsplit.fish DESTINATION ${CMAKE_INSTALL_DATADIR}/fish/vendor_completions.d)
  endif()
endif()

# For those who build without CMake. Paths are relative to the file, so that a moved copy still works.
file(RELATIVE_PATH _up /${CMAKE_INSTALL_LIBDIR}/pkgconfig /)
string(REGEX REPLACE "/$" "" BAGSPLIT_PC_PREFIX "\${pcfiledir}/${_up}")
configure_file(${CMAKE_CURRENT_LIST_DIR}/bagsplit.pc.in ${PROJECT_BINARY_DIR}/bagsplit.pc @ONLY)
install(FILES ${PROJECT_BINARY_DIR}/bagsplit.pc DESTINATION ${CMAKE_INSTALL_LIBDIR}/pkgconfig COMPONENT library)
install(FILES ${PROJECT_SOURCE_DIR}/README.md DESTINATION ${CMAKE_INSTALL_DOCDIR})
# What each module's mathematics is: named by the help as jobs.md, inference.md, ...
foreach(_module IN ITEMS basepath inference jobs norms timing)
  install(FILES ${PROJECT_SOURCE_DIR}/lib/bagsplit/${_module}/README.md DESTINATION ${CMAKE_INSTALL_DOCDIR} RENAME ${_module}.md)
endforeach()
install(FILES ${PROJECT_SOURCE_DIR}/lib/bagsplit/inference/prior/priors.md DESTINATION ${CMAKE_INSTALL_DOCDIR})

# What Debian asks of a package: its licence in its own form, and a changelog.
file(READ ${PROJECT_SOURCE_DIR}/LICENSE BAGSPLIT_LICENCE)
string(REGEX REPLACE "^.*\n\n(Permission)" "\\1" BAGSPLIT_LICENCE "${BAGSPLIT_LICENCE}")
string(REGEX REPLACE "\n+$" "" BAGSPLIT_LICENCE "${BAGSPLIT_LICENCE}")
string(REPLACE "\n\n" "\n.\n" BAGSPLIT_LICENCE "${BAGSPLIT_LICENCE}")
string(REPLACE "\n" "\n " BAGSPLIT_LICENCE " ${BAGSPLIT_LICENCE}")
configure_file(${CMAKE_CURRENT_LIST_DIR}/copyright.in ${PROJECT_BINARY_DIR}/copyright @ONLY)
configure_file(${CMAKE_CURRENT_LIST_DIR}/changelog.in ${PROJECT_BINARY_DIR}/changelog @ONLY)
if(BAGSPLIT_GZIP)
  execute_process(COMMAND ${CMAKE_COMMAND} -DFROM=${PROJECT_BINARY_DIR}/changelog -DTO=${PROJECT_BINARY_DIR}/changelog.gz
    -P ${CMAKE_CURRENT_LIST_DIR}/gzip.cmake COMMAND_ERROR_IS_FATAL ANY)
  foreach(_package IN ITEMS command/bagsplit library/libbagsplit-dev)
    cmake_path(GET _package PARENT_PATH _component)
    cmake_path(GET _package FILENAME _name)
    install(FILES ${PROJECT_BINARY_DIR}/changelog.gz ${PROJECT_BINARY_DIR}/copyright
      DESTINATION ${CMAKE_INSTALL_DATADIR}/doc/${_name} COMPONENT ${_component})
  endforeach()
endif()

# cpack: a Debian package and a tarball.
set(CPACK_PACKAGE_NAME bagsplit)
set(CPACK_PACKAGE_CONTACT "The bagsplit maintainers <maintainers@bagsplit.invalid>")
set(CPACK_PACKAGE_DESCRIPTION_SUMMARY "${PROJECT_DESCRIPTION}")
set(CPACK_RESOURCE_FILE_LICENSE ${PROJECT_SOURCE_DIR}/LICENSE)
set(CPACK_PACKAGING_INSTALL_PREFIX /usr)
set(CPACK_GENERATOR DEB TGZ)
set(CPACK_SYSTEM_NAME ${CMAKE_SYSTEM_NAME}-${CMAKE_SYSTEM_PROCESSOR})
set(CPACK_STRIP_FILES ON)
set(CPACK_DEB_COMPONENT_INSTALL ON)
set(CPACK_COMPONENTS_ALL command library)
set(CPACK_DEBIAN_FILE_NAME DEB-DEFAULT)
set(CPACK_DEBIAN_PACKAGE_SECTION science)
set(CPACK_DEBIAN_COMMAND_PACKAGE_NAME bagsplit)
set(CPACK_DEBIAN_COMMAND_PACKAGE_SHLIBDEPS ON)
set(CPACK_DEBIAN_LIBRARY_PACKAGE_NAME libbagsplit-dev)
set(CPACK_DEBIAN_LIBRARY_PACKAGE_SECTION libdevel)
set(CPACK_DEBIAN_LIBRARY_PACKAGE_DEPENDS libeigen3-dev)
set(CPACK_COMPONENT_COMMAND_DESCRIPTION "What stopwatch, gate and video times say about each player: reaction,
acceleration, top speed and the time lost at each bag, each with an interval.
Nothing leaves the machine.")
set(CPACK_COMPONENT_LIBRARY_DESCRIPTION "Headers, a static library, a CMake package and a pkg-config file for programs
that compute with recorded runs.")
include(CPack)
