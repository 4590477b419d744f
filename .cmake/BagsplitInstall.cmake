include(CMakePackageConfigHelpers)
install(TARGETS bagsplit EXPORT bagsplitTargets FILE_SET HEADERS)
install(EXPORT bagsplitTargets NAMESPACE bagsplit:: DESTINATION ${CMAKE_INSTALL_LIBDIR}/cmake/bagsplit)
configure_package_config_file(${CMAKE_CURRENT_LIST_DIR}/bagsplitConfig.cmake.in
  ${PROJECT_BINARY_DIR}/bagsplitConfig.cmake INSTALL_DESTINATION ${CMAKE_INSTALL_LIBDIR}/cmake/bagsplit)
# Before 1.0 a minor version may change what is declared.
write_basic_package_version_file(${PROJECT_BINARY_DIR}/bagsplitConfigVersion.cmake COMPATIBILITY SameMinorVersion)
install(FILES ${PROJECT_BINARY_DIR}/bagsplitConfig.cmake ${PROJECT_BINARY_DIR}/bagsplitConfigVersion.cmake
  DESTINATION ${CMAKE_INSTALL_LIBDIR}/cmake/bagsplit)
if(BAGSPLIT_BUILD_CLI)
  install(TARGETS bagsplit_cli)
  if(TARGET bagsplit_pages)
    install(FILES ${PROJECT_BINARY_DIR}/cli/bagsplit.1 DESTINATION ${CMAKE_INSTALL_MANDIR}/man1)
    install(FILES ${PROJECT_BINARY_DIR}/cli/bagsplit.bash DESTINATION ${CMAKE_INSTALL_DATADIR}/bash-completion/completions RENAME bagsplit)
    install(FILES ${PROJECT_BINARY_DIR}/cli/_bagsplit DESTINATION ${CMAKE_INSTALL_DATADIR}/zsh/site-functions)
    install(FILES ${PROJECT_BINARY_DIR}/cli/bagsplit.fish DESTINATION ${CMAKE_INSTALL_DATADIR}/fish/vendor_completions.d)
  endif()
endif()

# For those who build without CMake. Paths are relative to the file, so that a moved copy still works.
file(RELATIVE_PATH _up /${CMAKE_INSTALL_LIBDIR}/pkgconfig /)
string(REGEX REPLACE "/$" "" BAGSPLIT_PC_PREFIX "\${pcfiledir}/${_up}")
configure_file(${CMAKE_CURRENT_LIST_DIR}/bagsplit.pc.in ${PROJECT_BINARY_DIR}/bagsplit.pc @ONLY)
install(FILES ${PROJECT_BINARY_DIR}/bagsplit.pc DESTINATION ${CMAKE_INSTALL_LIBDIR}/pkgconfig)
install(FILES ${PROJECT_SOURCE_DIR}/README.md ${PROJECT_SOURCE_DIR}/LICENSE DESTINATION ${CMAKE_INSTALL_DOCDIR})

# cpack: a Debian package and a tarball.
set(CPACK_PACKAGE_NAME bagsplit)
set(CPACK_PACKAGE_CONTACT "The bagsplit engineers <bagsplit@example.org>")
set(CPACK_PACKAGE_DESCRIPTION_SUMMARY "${PROJECT_DESCRIPTION}")
set(CPACK_RESOURCE_FILE_LICENSE ${PROJECT_SOURCE_DIR}/LICENSE)
set(CPACK_PACKAGING_INSTALL_PREFIX /usr)
set(CPACK_GENERATOR DEB TGZ)
set(CPACK_SYSTEM_NAME ${CMAKE_SYSTEM_NAME}-${CMAKE_SYSTEM_PROCESSOR})
set(CPACK_STRIP_FILES ON)
set(CPACK_DEBIAN_FILE_NAME DEB-DEFAULT)
set(CPACK_DEBIAN_PACKAGE_SECTION science)
set(CPACK_DEBIAN_PACKAGE_SHLIBDEPS ON)
set(CPACK_DEBIAN_PACKAGE_SUGGESTS libeigen3-dev)  # for those who link the library
include(CPack)
