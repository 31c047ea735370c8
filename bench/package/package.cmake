# What `cmake --install` puts where, and how CPack makes the Debian package of it.
include(GNUInstallDirs)

install(TARGETS tipwright RUNTIME)
install(DIRECTORY templates/ DESTINATION ${CMAKE_INSTALL_DATADIR}/tipwright/templates)
install(FILES bench/package/completion/tipwright.bash
  DESTINATION ${CMAKE_INSTALL_DATADIR}/bash-completion/completions RENAME tipwright)
install(FILES bench/package/completion/_tipwright DESTINATION ${CMAKE_INSTALL_DATADIR}/zsh/vendor-completions)
install(FILES bench/package/completion/tipwright.fish DESTINATION ${CMAKE_INSTALL_DATADIR}/fish/vendor_completions.d)
install(FILES bench/package/copyright README.md DESTINATION ${CMAKE_INSTALL_DATADIR}/doc/tipwright)
# Where the system looks for them, whatever the prefix is called.
install(FILES bench/package/udev/60-tipwright.rules DESTINATION lib/udev/rules.d)
install(FILES bench/package/systemd/tipwright-page.service DESTINATION lib/systemd/system)

# The manual is made by the program itself, from the descriptions that --help shows, and from the texts on the files.
find_program(LOWDOWN lowdown)
find_program(GZIP gzip)
if(LOWDOWN AND GZIP)
  set(manual ${PROJECT_BINARY_DIR}/manual)
  set(manual_texts templates/README.md templates/formats.md templates/settings.md templates/instruments/README.md templates/supplied/README.md
    bench/journal/format.md README.md)
  add_custom_command(OUTPUT ${manual}/done
    COMMAND bash bench/package/manual.sh $<TARGET_FILE:tipwright> ${PROJECT_VERSION} ${manual}
    COMMAND ${GZIP} -9nc bench/package/changelog > ${manual}/changelog.gz
    COMMAND ${CMAKE_COMMAND} -E touch ${manual}/done
    DEPENDS tipwright bench/package/manual.sh bench/package/changelog ${manual_texts}
    WORKING_DIRECTORY ${PROJECT_SOURCE_DIR} VERBATIM)
  add_custom_target(tipwright_manual ALL DEPENDS ${manual}/done)
  install(DIRECTORY ${manual}/man1 ${manual}/man5 ${manual}/man7 DESTINATION ${CMAKE_INSTALL_MANDIR})
  install(FILES ${manual}/changelog.gz DESTINATION ${CMAKE_INSTALL_DATADIR}/doc/tipwright)
else()
  message(STATUS "No manual: lowdown or gzip is missing (bash bench/install.sh)")
endif()

set(CPACK_GENERATOR DEB)
set(CPACK_PACKAGE_NAME tipwright)
set(CPACK_PACKAGE_VENDOR tipwright)
set(CPACK_PACKAGE_CONTACT "tipwright <bench@tipwright.invalid>")
set(CPACK_PACKAGING_INSTALL_PREFIX /usr)
set(CPACK_STRIP_FILES ON)
set(CPACK_INSTALL_DEFAULT_DIRECTORY_PERMISSIONS
  OWNER_READ OWNER_WRITE OWNER_EXECUTE GROUP_READ GROUP_EXECUTE WORLD_READ WORLD_EXECUTE)
set(CPACK_PACKAGE_DESCRIPTION_SUMMARY "calibration bench for tipping-bucket rain gauges")
set(CPACK_DEBIAN_PACKAGE_DESCRIPTION
  "Passes known steady flows of water through a rain gauge at stepped rates,
counts its tips, weighs what it discharges, and derives the volume per tip
and how it changes with the rate, with an uncertainty budget. Writes the
journal, the record, the correction for the logger and the calibration
certificate, and keeps a register of gauges and certificates. A virtual
bench with real physics is included for trials.")
set(CPACK_DEBIAN_PACKAGE_SECTION science)
set(CPACK_DEBIAN_PACKAGE_PRIORITY optional)
set(CPACK_DEBIAN_PACKAGE_SHLIBDEPS ON)
set(CPACK_DEBIAN_PACKAGE_DEPENDS "fonts-dejavu-core")
set(CPACK_DEBIAN_COMPRESSION_TYPE xz)
set(CPACK_DEBIAN_FILE_NAME DEB-DEFAULT)
set(CPACK_DEBIAN_PACKAGE_CONTROL_STRICT_PERMISSION ON)
set(CPACK_DEBIAN_PACKAGE_CONTROL_EXTRA ${PROJECT_SOURCE_DIR}/bench/package/postinst
  ${PROJECT_SOURCE_DIR}/bench/package/prerm ${PROJECT_SOURCE_DIR}/bench/package/postrm)
include(CPack)
