// Plugins that throw across the boundary; C cannot. RUDE_QUERY, RUDE_CREATE or RUDE_EVALUATE.
#include <stdexcept>

#include "lostspark_plugin.h"

namespace {

const ls_stage_v1 k_stage{"work", "work", 0};
const ls_stage_output_v1 k_output{"work", "force", LS_OUTPUT_VALUE, "volt", "", ""};
const ls_component_v1 k_component{"box", "box", "CTL", LS_COMPONENT_PART, 1, 0};

int32_t option_count() { return 0; }
int32_t option(int32_t, ls_option_v1*) { return LS_FAILED; }
ls_instance* create(const ls_setting*, int32_t, ls_message*) {
#ifdef RUDE_CREATE
  throw std::runtime_error("thrown by create");
#endif
  static char here;
  return reinterpret_cast<ls_instance*>(&here);
}
void destroy(ls_instance*) { throw 42; }  // a destructor of the host must survive this
int32_t count(const ls_instance*, int32_t table) {
  return table == LS_STAGES || table == LS_STAGE_OUTPUTS || table == LS_COMPONENTS ? 1 : 0;
}
int32_t row(const ls_instance*, int32_t table, int32_t, void* out, ls_message*) {
  if (table == LS_STAGES) *static_cast<ls_stage_v1*>(out) = k_stage;
  if (table == LS_STAGE_OUTPUTS) *static_cast<ls_stage_output_v1*>(out) = k_output;
  if (table == LS_COMPONENTS) *static_cast<ls_component_v1*>(out) = k_component;
  return LS_OK;
}
int32_t evaluate(const ls_instance*, int32_t, int32_t, const double*, double*, ls_message*) {
  throw std::runtime_error("thrown by evaluate");
}

const ls_family_v1 k_family{sizeof(ls_family_v1), "rude", "rude", "", option_count, option, create,
                            destroy, count, row, evaluate};

const void* query(const char*) {
#ifdef RUDE_QUERY
  throw std::runtime_error("thrown by query");
#endif
  return &k_family;
}

}  // namespace

extern "C" {
LS_EXPORT extern const ls_entry_v1 lostspark_entry;
const ls_entry_v1 lostspark_entry{LS_ABI_MAJOR, LS_ABI_MINOR, sizeof(ls_entry_v1), "rude", "1.0.0", query};
}
