# lostspark_add_family(<id> SOURCES <file>...): a family as a module library <id>.so, hidden visibility, one exported
# symbol, undefined symbols refused at the link. LOSTSPARK_EXPORTS_MAP names the version script.
function(lostspark_add_family id)
  cmake_parse_arguments(family "" "" "SOURCES" ${ARGN})
  if(NOT family_SOURCES)
    message(FATAL_ERROR "lostspark_add_family(${id}): give its files after SOURCES")
  endif()
  add_library(${id} MODULE ${family_SOURCES})
  target_link_libraries(${id} PRIVATE lostspark::blocks)
  target_compile_features(${id} PRIVATE cxx_std_20)
  set_target_properties(${id} PROPERTIES PREFIX "" CXX_VISIBILITY_PRESET hidden C_VISIBILITY_PRESET hidden
                        VISIBILITY_INLINES_HIDDEN ON LINK_DEPENDS ${LOSTSPARK_EXPORTS_MAP})
  target_link_options(${id} PRIVATE -Wl,--version-script=${LOSTSPARK_EXPORTS_MAP} -Wl,--no-undefined)
endfunction()
