// Cautions and complaints of the family; texts and likelihoods that all families share come from blocks/words.hpp.
#include "blocks/words.hpp"

#include "family.hpp"

namespace lostspark::ac_cdi {

void add_cautions(plugin::Tables& t) {
  blocks::add_cautions(t, {"S01", "S02", "S03", "S04", "S05", "S06", "S09", "S10", "S11", "S12",
                           "S13", "S15", "S17", "S18", "S19", "S20", "S21", "S22", "S23", "S24"});
}

void add_complaints(plugin::Tables& t) {
  blocks::add_common_complaints(t, "fire.trigger_margin fire.spark_margin");
  // Computed from the switch itself: the table by group would accuse a switch stuck to earth of not stopping the
  // engine.
  t.add(ls_complaint_v1{
      "cannot_stop", "cannot be stopped", "stop.run_on_margin", "", "steady",
      "SRC=0.1 CON=6 INH=10 TRG=0.1 CTL=1 PRI=0.1 SEC=0.1 PLG=0.1 TIM=0.1 FUE=0.1 CMP=0.1 AIR=0.1 OTH=1"});
}

}  // namespace lostspark::ac_cdi
