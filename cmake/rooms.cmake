# One call a room and one a test: the floors of the building are the USES lists, nothing else.

# tw_room(NAME disc USES base design LIBS PkgConfig::GSL)
# Compiles src/NAME/*.c once; the room's own library tw_NAME carries it and what it stands on.
function(tw_room)
  cmake_parse_arguments(R "" "NAME" "USES;LIBS" ${ARGN})
  file(GLOB sources CONFIGURE_DEPENDS ${PROJECT_SOURCE_DIR}/src/${R_NAME}/*.c)
  if(NOT sources)
    return()
  endif()
  add_library(tw_${R_NAME}_objects OBJECT ${sources})
  target_include_directories(tw_${R_NAME}_objects PUBLIC ${PROJECT_SOURCE_DIR}/include
                             PRIVATE ${PROJECT_SOURCE_DIR}/src/${R_NAME}
                                     ${PROJECT_BINARY_DIR}/generated)
  target_link_libraries(tw_${R_NAME}_objects PUBLIC tw_flags ${R_LIBS})
  set_target_properties(tw_${R_NAME}_objects PROPERTIES POSITION_INDEPENDENT_CODE ON)
  add_library(tw_${R_NAME} STATIC $<TARGET_OBJECTS:tw_${R_NAME}_objects>)
  target_include_directories(tw_${R_NAME} PUBLIC ${PROJECT_SOURCE_DIR}/include)
  target_link_libraries(tw_${R_NAME} PUBLIC tw_flags ${R_LIBS})
  foreach(below ${R_USES})
    if(TARGET tw_${below})
      target_link_libraries(tw_${R_NAME} PUBLIC tw_${below})
    endif()
  endforeach()
  set_property(GLOBAL APPEND PROPERTY TW_ROOMS ${R_NAME})
endfunction()

# Tests: tests/KIND/test_ROOM.c or test_ROOM_topic.c links tw_ROOM and what that stands on.
# Fuzzers: tests/fuzz/fuzz_ROOM_topic.c; benchmarks: benchmarks/bench_ROOM_topic.c.
function(tw_room_of_file file prefix out)
  get_filename_component(stem ${file} NAME_WE)
  string(REGEX REPLACE "^${prefix}_" "" rest ${stem})
  string(REGEX REPLACE "_.*$" "" room ${rest})
  set(${out} ${room} PARENT_SCOPE)
endfunction()

function(tw_tests kind)
  file(GLOB files CONFIGURE_DEPENDS ${PROJECT_SOURCE_DIR}/tests/${kind}/test_*.c)
  foreach(file ${files})
    get_filename_component(stem ${file} NAME_WE)
    tw_room_of_file(${file} test room)
    if(NOT TARGET tw_${room})
      message(FATAL_ERROR "${file}: no room named ${room}")
    endif()
    set(target ${kind}_${stem})
    add_executable(${target} ${file})
    target_include_directories(${target} PRIVATE ${PROJECT_SOURCE_DIR}/tests/support
                               ${PROJECT_SOURCE_DIR}/src/${room})
    target_compile_definitions(${target} PRIVATE TW_SOURCE_DIR="${PROJECT_SOURCE_DIR}"
                               TW_BINARY_DIR="${PROJECT_BINARY_DIR}")
    target_link_libraries(${target} PRIVATE tw_${room} PkgConfig::CMOCKA m)
    add_test(NAME ${kind}.${stem} COMMAND ${target} WORKING_DIRECTORY ${PROJECT_SOURCE_DIR})
    # the thread sanitizer takes ten times as long
    set_tests_properties(${kind}.${stem} PROPERTIES LABELS ${kind} TIMEOUT $<IF:$<BOOL:${TW_TSAN}>,3600,600>)
  endforeach()
endfunction()

function(tw_programs folder prefix group)
  file(GLOB files CONFIGURE_DEPENDS ${PROJECT_SOURCE_DIR}/${folder}/${prefix}_*.c)
  foreach(file ${files})
    get_filename_component(stem ${file} NAME_WE)
    tw_room_of_file(${file} ${prefix} room)
    add_executable(${stem} ${file})
    target_include_directories(${stem} PRIVATE ${PROJECT_SOURCE_DIR}/tests/support)
    target_compile_definitions(${stem} PRIVATE TW_SOURCE_DIR="${PROJECT_SOURCE_DIR}")
    target_link_libraries(${stem} PRIVATE tw_${room} m)
    set_property(GLOBAL APPEND PROPERTY TW_${group} ${stem})
  endforeach()
endfunction()
