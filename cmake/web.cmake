# The page's files stand built in web/embedded (a test holds them against their source), so that the
# program needs no JavaScript tools to build. Here they become a C source of the report room.
pkg_check_modules(ZLIB REQUIRED IMPORTED_TARGET zlib)
add_executable(tw_embed web/embed/embed.c)
target_link_libraries(tw_embed PRIVATE PkgConfig::ZLIB)
set(web_files page.html page.js page.css drawing.css icon.svg)
list(TRANSFORM web_files PREPEND ${PROJECT_SOURCE_DIR}/web/embedded/)
set(web_source ${PROJECT_BINARY_DIR}/generated/assets.c)
file(MAKE_DIRECTORY ${PROJECT_BINARY_DIR}/generated)
add_custom_command(OUTPUT ${web_source} COMMAND tw_embed ${web_source} ${web_files}
  DEPENDS tw_embed ${web_files} COMMENT "page into a C source" VERBATIM)
target_sources(tw_report_objects PRIVATE ${web_source})
target_link_libraries(tw_report_objects PUBLIC PkgConfig::ZLIB)
target_link_libraries(tw_report PUBLIC PkgConfig::ZLIB)
