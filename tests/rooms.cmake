# Which libraries each room's tests link. Add a line, add a folder.
lostspark_tests(model lostspark_model)
lostspark_tests(sources lostspark_sources)
lostspark_tests(circuit lostspark_sources lostspark_circuit)
if(TARGET test_circuit AND TARGET transistor_inductive)
  add_dependencies(test_circuit transistor_inductive)  # the road bike's family
endif()
lostspark_tests(inference lostspark_sources lostspark_inference lostspark_simulation)
if(TARGET test_inference AND TARGET coil_on_plug)
  add_dependencies(test_inference coil_on_plug)  # four cylinders on the real family
endif()
lostspark_tests(simulation lostspark_sources lostspark_simulation lostspark_inference)
lostspark_tests(planning lostspark_sources lostspark_planning lostspark_planner_support)
if(TARGET test_planning AND TARGET ac_cdi)
  add_dependencies(test_planning ac_cdi)  # the trail bike's family
endif()
lostspark_tests(history lostspark_history)
if(TARGET test_history)
  target_sources(test_history PRIVATE support/lying_disk.cpp)
endif()
if(LIBPQ_FOUND)
  lostspark_tests(postgres lostspark_history nlohmann_json::nlohmann_json)  # starts a server of its own
  target_sources(test_postgres PRIVATE history/history_support.cpp cli/program.cpp)
  foreach(needed lostspark ac_cdi)
    if(TARGET ${needed})
      add_dependencies(test_postgres ${needed})
    endif()
  endforeach()
endif()
lostspark_tests(learning lostspark_learning)
lostspark_tests(job lostspark_job)
lostspark_tests(cli lostspark_faces_cli)
if(TARGET test_cli)
  # The end-to-end cases run the program itself; plugins that misbehave are for `family check`.
  foreach(needed lostspark ac_cdi dc_cdi flywheel_magneto coil_on_plug breaker_points outboard_cdi)
    if(TARGET ${needed})
      add_dependencies(test_cli ${needed})
    endif()
  endforeach()
  target_compile_definitions(test_cli PRIVATE LOSTSPARK_RUDE_PLUGINS="${CMAKE_CURRENT_BINARY_DIR}/rude_plugins")
  foreach(manner crash hang leave throw talk)
    string(TOUPPER ${manner} manner_define)
    add_library(rude_${manner} MODULE cli/plugins/rude.cpp)
    target_compile_definitions(rude_${manner} PRIVATE RUDE_${manner_define})
    target_link_libraries(rude_${manner} PRIVATE lostspark_abi)
    set_target_properties(rude_${manner} PROPERTIES PREFIX "" LIBRARY_OUTPUT_DIRECTORY ${CMAKE_CURRENT_BINARY_DIR}/rude_plugins)
    add_dependencies(test_cli rude_${manner})
  endforeach()
endif()
lostspark_tests(spice lostspark_job
                tomlplusplus::tomlplusplus fmt::fmt nlohmann_json::nlohmann_json)
set_source_files_properties(spice/test_runner.cpp PROPERTIES SKIP_PRECOMPILE_HEADERS ON)  # it configures Catch2 first
set_tests_properties(spice PROPERTIES SKIP_RETURN_CODE 77)  # ngspice missing: skipped out loud
set_tests_properties(spice PROPERTIES COST 1000)  # the longest: first
lostspark_tests(rooms)
if(TARGET test_rooms AND TARGET ac_cdi)
  add_dependencies(test_rooms ac_cdi)  # it looks at what the built plugins export
endif()
lostspark_tests(plugins lostspark_blocks ${CMAKE_DL_LIBS})
if(TARGET test_plugins)
  add_dependencies(test_plugins ac_cdi transistor_inductive coil_on_plug breaker_points flywheel_magneto dc_cdi outboard_cdi wasted_spark)  # loaded by the tests as any host would
  # The header by itself, as C11: what it defines there must be what C++ sees.
  target_sources(test_plugins PRIVATE plugins/abi_as_c11.c)
  set_source_files_properties(plugins/abi_as_c11.c PROPERTIES COMPILE_OPTIONS "-std=c11;-pedantic-errors")
endif()
# Rooms whose tests do not compute much themselves.
foreach(room model sources history postgres job cli spice rooms plugins)
  if(TARGET test_${room})
    lostspark_quick_build(test_${room})
  endif()
endforeach()
