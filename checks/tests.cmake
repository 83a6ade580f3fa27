# Scoring over random machines: an executable of its own; docs/fit-coverage.md says how to run it at length.
if(TARGET room_homing AND TARGET demo_generator_parts)
  add_executable(fit_coverage ${CMAKE_SOURCE_DIR}/checks/coverage/main.cpp
    ${CMAKE_SOURCE_DIR}/checks/generated_job.cpp ${CMAKE_SOURCE_DIR}/checks/coverage/score.cpp
    ${CMAKE_SOURCE_DIR}/checks/coverage/true_modes.cpp)
  target_link_libraries(fit_coverage PRIVATE room_homing demo_generator_parts Threads::Threads)
  target_compile_definitions(fit_coverage PRIVATE EVENBEAM_SOURCE_DIR="${CMAKE_SOURCE_DIR}")
  add_executable(marks_coverage ${CMAKE_SOURCE_DIR}/checks/coverage/marks_main.cpp)
  target_link_libraries(marks_coverage PRIVATE room_homing Threads::Threads)
  target_compile_definitions(marks_coverage PRIVATE EVENBEAM_SOURCE_DIR="${CMAKE_SOURCE_DIR}")
  add_test(NAME fit_coverage COMMAND fit_coverage --from 41 --count 4)
  set_tests_properties(fit_coverage PROPERTIES TIMEOUT 300 LABELS slow)
endif()
# A second reader of structured text, of no use to the program: runs what `evenbeam export` writes.
if(TARGET exporting_check)
  add_library(structured_text STATIC ${CMAKE_SOURCE_DIR}/checks/structured_text/lexer.cpp
    ${CMAKE_SOURCE_DIR}/checks/structured_text/declarations.cpp ${CMAKE_SOURCE_DIR}/checks/structured_text/statements.cpp
    ${CMAKE_SOURCE_DIR}/checks/structured_text/expressions.cpp ${CMAKE_SOURCE_DIR}/checks/structured_text/text.cpp
    ${CMAKE_SOURCE_DIR}/checks/structured_text/run.cpp)
  target_include_directories(structured_text PUBLIC ${CMAKE_SOURCE_DIR}/checks)
  target_link_libraries(exporting_check PRIVATE structured_text)
endif()

# Intervals of squareness over random machines: seeds fixed, no recordings, quick.
if(TARGET room_squareness AND TARGET demo_generator_parts)
  add_executable(square_coverage ${CMAKE_SOURCE_DIR}/checks/squareness/coverage.cpp)
  target_link_libraries(square_coverage PRIVATE room_squareness demo_generator_parts)
  add_test(NAME square_coverage COMMAND square_coverage --from 1 --count 1000)
  set_tests_properties(square_coverage PROPERTIES TIMEOUT 120 LABELS fast)
endif()
# A million random moves: built with the tests, run at length by hand (docs/moves.md); here a small part of them.
add_executable(many_moves ${CMAKE_SOURCE_DIR}/checks/trajectory/many_moves.cpp)
target_link_libraries(many_moves PRIVATE room_trajectory Threads::Threads)
add_test(NAME many_moves COMMAND many_moves 2000 500000)
set_tests_properties(many_moves PROPERTIES TIMEOUT 120 LABELS fast)
# Settings proposed, run where the program did not look; docs/loops.md says how to run it at length.
if(TARGET room_tuning AND TARGET demo_generator_parts)
  add_executable(loops_coverage ${CMAKE_SOURCE_DIR}/checks/loops_coverage/main.cpp
    ${CMAKE_SOURCE_DIR}/checks/generated_job.cpp ${CMAKE_SOURCE_DIR}/checks/loops_coverage/spread.cpp
    ${CMAKE_SOURCE_DIR}/checks/loops_coverage/published.cpp ${CMAKE_SOURCE_DIR}/checks/loops_coverage/told.cpp)
  target_link_libraries(loops_coverage PRIVATE room_tuning room_limits room_protection demo_generator_parts
    Threads::Threads)
  target_compile_definitions(loops_coverage PRIVATE EVENBEAM_SOURCE_DIR="${CMAKE_SOURCE_DIR}")
  add_test(NAME loops_drawn COMMAND loops_coverage --drawn 100)
  set_tests_properties(loops_drawn PROPERTIES TIMEOUT 300 LABELS slow)
endif()
# The next capture as proposed, made and fitted; docs/fit-coverage.md says how to run it at length.
if(TARGET room_tuning AND TARGET demo_generator_parts)
  add_executable(capture_gain ${CMAKE_SOURCE_DIR}/checks/capture_gain/main.cpp
    ${CMAKE_SOURCE_DIR}/checks/generated_job.cpp)
  target_link_libraries(capture_gain PRIVATE room_tuning demo_generator_parts Threads::Threads)
  target_compile_definitions(capture_gain PRIVATE EVENBEAM_SOURCE_DIR="${CMAKE_SOURCE_DIR}")
  add_test(NAME capture_gain COMMAND capture_gain --from 3 --count 1 --without 07,08)
  set_tests_properties(capture_gain PROPERTIES TIMEOUT 300 LABELS slow)
endif()
# Machines with seeded defects, and station causes on them; docs/causes.md says how to run it at length.
if(TARGET room_workflow)
  add_executable(causes_pack ${CMAKE_SOURCE_DIR}/checks/causes_pack/main.cpp
    ${CMAKE_SOURCE_DIR}/checks/causes_pack/pack.cpp ${CMAKE_SOURCE_DIR}/checks/causes_pack/bank.cpp
    ${CMAKE_SOURCE_DIR}/checks/causes_pack/odds_train.cpp ${CMAKE_SOURCE_DIR}/checks/causes_pack/budget_cover.cpp
    ${CMAKE_SOURCE_DIR}/checks/causes_pack/cases.cpp ${CMAKE_SOURCE_DIR}/checks/causes_pack/judge.cpp
    ${CMAKE_SOURCE_DIR}/checks/causes_pack/trace.cpp ${CMAKE_SOURCE_DIR}/checks/causes_pack/sheets.cpp)
  target_link_libraries(causes_pack PRIVATE room_workflow Threads::Threads)
  add_test(NAME causes_pack COMMAND causes_pack --from 22 --count 2)
  add_test(NAME causes_sheets COMMAND causes_pack --sheets --from 21 --count 1)
  set_tests_properties(causes_pack causes_sheets PROPERTIES TIMEOUT 120 LABELS slow)
endif()
# Kills, full and read-only disks, restless files, odd numbers; ./run robust does it at length.
add_test(NAME faults COMMAND python3 ${CMAKE_SOURCE_DIR}/checks/robust/faults.py $<TARGET_FILE:evenbeam>
  ${CMAKE_BINARY_DIR}/faults --kills 12)
set_tests_properties(faults PROPERTIES TIMEOUT 300 LABELS slow)
# Completion, asked of bash, and of zsh and fish where they are installed.
add_test(NAME completion COMMAND bash ${CMAKE_SOURCE_DIR}/checks/shell_completion.sh $<TARGET_FILE:evenbeam>)
set_tests_properties(completion PROPERTIES TIMEOUT 120 LABELS fast)
