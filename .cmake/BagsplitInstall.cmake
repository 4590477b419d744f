include(CMakePackageConfigHelpers)
install(TARGETS bagsplit EXPORT bagsplitTargets FILE_SET HEADERS)
install(EXPORT bagsplitTargets NAMESPACE bagsplit:: DESTINATION ${CMAKE_INSTALL_LIBDIR}/cmake/bagsplit)
configure_package_config_file(${CMAKE_CURRENT_LIST_DIR}/bagsplitConfig.cmake.in
  ${PROJECT_BINARY_DIR}/bagsplitConfig.cmake INSTALL_DESTINATION ${CMAKE_INSTALL_LIBDIR}/cmake/bagsplit)
write_basic_package_version_file(${PROJECT_BINARY_DIR}/bagsplitConfigVersion.cmake COMPATIBILITY SameMajorVersion)
install(FILES ${PROJECT_BINARY_DIR}/bagsplitConfig.cmake ${PROJECT_BINARY_DIR}/bagsplitConfigVersion.cmake
  DESTINATION ${CMAKE_INSTALL_LIBDIR}/cmake/bagsplit)
if(BAGSPLIT_BUILD_CLI)
  install(TARGETS bagsplit_cli)
endif()
