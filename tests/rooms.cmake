# Which libraries each room's tests link. Add a line, add a folder.
lostspark_tests(model lostspark_model)
lostspark_tests(sources lostspark_sources)
lostspark_tests(circuit lostspark_sources lostspark_circuit)
lostspark_tests(inference lostspark_sources lostspark_inference lostspark_simulation)
lostspark_tests(simulation lostspark_sources lostspark_simulation)
lostspark_tests(planning lostspark_sources lostspark_planning)
lostspark_tests(history lostspark_history)
if(TARGET test_history)
  target_sources(test_history PRIVATE support/lying_disk.cpp)
endif()
lostspark_tests(job lostspark_job)
lostspark_tests(cli lostspark_faces_cli)
lostspark_tests(spice lostspark_sources lostspark_inference lostspark_planning lostspark_simulation
                tomlplusplus::tomlplusplus fmt::fmt)
set_tests_properties(spice PROPERTIES SKIP_RETURN_CODE 77)  # ngspice missing: skipped out loud
