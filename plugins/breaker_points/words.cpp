// Cautions and complaints. Likelihoods: engineering judgement, docs/complaints.md.
#include "blocks/words.hpp"

#include "family.hpp"

namespace lostspark::breaker_points {

void add_words(plugin::Tables& t, const Options& o) {
  blocks::add_cautions(t, {"S01", "S02", "S03", "S04", "S05", "S06", "S07", "S09", "S10", "S11", "S12", "S13", "S16",
                           "S17", "S19", "S20", "S21", "S22", "S24"});
  t.add(ls_caution_v1{"S14", "WARNING", "Points closed with the key ON overheat or burst the coil",
                      "key ON under one minute; off between readings", 0});
  std::string ladder;
  for (int n = 1; n <= o.cylinders; ++n) ladder += (n > 1 ? "|fire" : "fire") + o.of_cylinder(n) + ".spark_margin";
  blocks::add_common_complaints(t, ladder.c_str());
  // A weak spark is seen where it is weak: the worst cylinder tells. No spark at all means every one.
  if (o.cylinders > 1)
    for (auto& complaint : t.complaints)
      if (complaint.id == std::string("weak_spark")) complaint.margins = t.keep("all.spark_margin");
  const auto add = [&](const char* id, const char* title, const char* table, const char* margins = "",
                       const char* extent = "", const char* word = "") {
    t.add(ls_complaint_v1{id, title, margins, extent, word, table});
  };
  if (o.cylinders > 1) {
    add("one_cylinder_dead", "one cylinder dead, no spark there at the tester",
        "SRC=1 CON=4 INH=0.1 TRG=3 CTL=6 PRI=9 SEC=8 PLG=10 TIM=0.1 FUE=5 CMP=9 AIR=2 OTH=0.1", ladder.c_str(), "one",
        "none");
    add("one_cylinder_weak", "one cylinder sparks irregularly, the others well",
        "SRC=1 CON=9 INH=0.1 TRG=3 CTL=4 PRI=7 SEC=9 PLG=7 TIM=0.1 FUE=4 CMP=3 AIR=2 OTH=0.1", ladder.c_str(), "one",
        "irregular");
    add("one_cylinder_misfires", "one cylinder misfires, spark not checked",
        "SRC=1 CON=9 INH=0.1 TRG=3 CTL=4 PRI=7 SEC=9 PLG=8 TIM=0.1 FUE=5 CMP=5 AIR=2 OTH=0.1");
  }
  if (o.ballast)
    add("dies_on_release", "starts, dies as the key returns from start",
        "SRC=1 CON=4 INH=6 TRG=0.1 CTL=1 PRI=10 SEC=0.1 PLG=0.1 TIM=0.1 FUE=1 CMP=0.1 AIR=0.1 OTH=1");
  add("battery_flat", "battery goes flat, then no spark",
      "SRC=10 CON=6 INH=1 TRG=0.1 CTL=0.1 PRI=1 SEC=0.1 PLG=0.1 TIM=0.1 FUE=0.1 CMP=0.1 AIR=0.1 OTH=4");
  // Computed from the switch itself: the table by group would accuse a switch that stays open.
  add("cannot_stop", o.distributor ? "cannot be stopped by its switch" : "cannot be stopped by the run switch",
      "SRC=0.1 CON=2 INH=10 TRG=0.1 CTL=0.1 PRI=0.1 SEC=0.1 PLG=0.1 TIM=0.1 FUE=0.1 CMP=0.1 AIR=0.1 OTH=1",
      "stop.run_on_margin", "", "steady");
}

}  // namespace lostspark::breaker_points
