# One doctest program per room (src/ROOM/*_test.cpp) and one per folder of outside checks (checks/ROOM/*_check.cpp).
# CTest runs each program as one test; `fast` marks those that also run under the sanitizers.
find_package(doctest REQUIRED)
add_library(test_main STATIC ${CMAKE_SOURCE_DIR}/cmake/test_main.cpp)
target_link_libraries(test_main PUBLIC doctest::doctest)

function(test_program name room)
  cmake_parse_arguments(T "" "" "SOURCES;LIBS" ${ARGN})
  add_executable(${name} ${T_SOURCES})
  target_link_libraries(${name} PRIVATE test_main room_${room} ${T_LIBS})
  target_compile_definitions(${name} PRIVATE EVENBEAM_SOURCE_DIR="${CMAKE_SOURCE_DIR}" EVENBEAM_BINARY_DIR="${CMAKE_BINARY_DIR}")
  add_test(NAME ${name} COMMAND ${name})
  set_tests_properties(${name} PROPERTIES TIMEOUT 300 LABELS fast)
endfunction()

foreach(room base units math machine dynamics servo trajectory recording signal simulation identification
    readiness limits nudge homing squareness tuning protection diagnosis rehearsal acceptance
    journal report workflow cli server)
  if(NOT TARGET room_${room})
    continue()
  endif()
  file(GLOB sources CONFIGURE_DEPENDS ${CMAKE_SOURCE_DIR}/src/${room}/*_test.cpp)
  if(sources)
    test_program(${room}_test ${room} SOURCES ${sources})
  endif()
  file(GLOB sources CONFIGURE_DEPENDS ${CMAKE_SOURCE_DIR}/checks/${room}/*_check.cpp)
  if(sources)
    test_program(${room}_check ${room} SOURCES ${sources})
  endif()
endforeach()
if(TARGET units_check)
  target_link_libraries(units_check PRIVATE udunits2)  # a second unit table to compare with; never in the program
endif()
foreach(extra demo/tests.cmake checks/tests.cmake)
  if(EXISTS ${CMAKE_SOURCE_DIR}/${extra})
    include(${CMAKE_SOURCE_DIR}/${extra})
  endif()
endforeach()
add_test(NAME rooms COMMAND bash ${CMAKE_SOURCE_DIR}/tools/check_rooms.sh ${CMAKE_SOURCE_DIR})
