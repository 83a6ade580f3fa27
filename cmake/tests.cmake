# One doctest program per room (src/ROOM/*_test.cpp) and one per folder of outside checks (checks/ROOM/*_check.cpp).
# CTest runs each program as one test. `fast`: no long one. `foreign`: the rooms that read bytes from outside or write
# files; every test run repeats them under address and undefined-behaviour sanitizers (the rest: ./run sanitize).
set(foreign_rooms base units machine recording trajectory journal report)
find_package(doctest REQUIRED)
add_library(test_main STATIC ${CMAKE_SOURCE_DIR}/cmake/test_main.cpp)
target_link_libraries(test_main PUBLIC doctest::doctest fmt::fmt)
precompiled(test_main test_main <algorithm> <cmath> <functional> <optional> <string> <vector> <doctest/doctest.h>
  <fmt/format.h>)

function(test_program name room)
  cmake_parse_arguments(T "" "" "SOURCES;LIBS" ${ARGN})
  add_executable(${name} ${T_SOURCES})
  target_link_libraries(${name} PRIVATE test_main room_${room} ${T_LIBS})
  target_compile_definitions(${name} PRIVATE EVENBEAM_SOURCE_DIR="${CMAKE_SOURCE_DIR}" EVENBEAM_BINARY_DIR="${CMAKE_BINARY_DIR}")
  precompiled(${name} test_main)
  add_test(NAME ${name} COMMAND ${name})
  set_tests_properties(${name} PROPERTIES TIMEOUT 300 LABELS fast)
endfunction()

foreach(room base units math machine dynamics servo trajectory recording signal simulation identification
    readiness limits nudge homing squareness tuning protection diagnosis rehearsal acceptance
    journal report exporting workflow cli server)
  if(NOT TARGET room_${room})
    continue()
  endif()
  file(GLOB sources CONFIGURE_DEPENDS ${CMAKE_SOURCE_DIR}/src/${room}/*_test.cpp)
  if(sources)
    test_program(${room}_test ${room} SOURCES ${sources})
    if(room IN_LIST foreign_rooms)
      set_tests_properties(${room}_test PROPERTIES LABELS "fast;foreign")
      list(APPEND foreign_tests ${room}_test)
    endif()
  endif()
  file(GLOB sources CONFIGURE_DEPENDS ${CMAKE_SOURCE_DIR}/checks/${room}/*_check.cpp)
  if(sources)
    test_program(${room}_check ${room} SOURCES ${sources})
  endif()
endforeach()
add_custom_target(foreign_tests DEPENDS ${foreign_tests})
if(TARGET units_check)
  target_link_libraries(units_check PRIVATE udunits2)  # a second unit table to compare with; never in the program
endif()
foreach(extra demo/tests.cmake checks/tests.cmake)
  if(EXISTS ${CMAKE_SOURCE_DIR}/${extra})
    include(${CMAKE_SOURCE_DIR}/${extra})
  endif()
endforeach()
add_test(NAME cli COMMAND bash ${CMAKE_SOURCE_DIR}/src/cli/cli_test.sh $<TARGET_FILE:evenbeam> ${CMAKE_BINARY_DIR}/cli_test_folder)
set_tests_properties(cli PROPERTIES TIMEOUT 600)
add_test(NAME rooms COMMAND bash ${CMAKE_SOURCE_DIR}/tools/check_rooms.sh ${CMAKE_SOURCE_DIR})
# The page in a real browser; installs two packages for Node.js into the build folder (checks/browser/package.json).
add_test(NAME browser COMMAND bash ${CMAKE_SOURCE_DIR}/checks/browser/run.sh $<TARGET_FILE:evenbeam> ${CMAKE_BINARY_DIR}/browser)
set_tests_properties(browser PROPERTIES TIMEOUT 600)
