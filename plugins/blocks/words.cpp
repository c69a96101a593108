#include "words.hpp"

#include <algorithm>

namespace lostspark::blocks {

void add_cautions(plugin::Tables& t, const std::vector<std::string>& ids) {
  std::size_t used = 0;
  const auto put = [&](const char* id, const char* word, const char* text, const char* avoid, bool first = false) {
    if (std::find(ids.begin(), ids.end(), id) == ids.end()) return;
    ++used;
    t.add(ls_caution_v1{id, word, text, avoid, first ? 1 : 0});
  };
  put("S01", "WARNING",
      "Secondary and primary ignition voltages (tens of kilovolts, hundreds of volts) can give a shock, a fall, or a "
      "heart rhythm disturbance",
      "hands off high-tension parts while cranking or running; insulated pliers; connect pickups with the engine off; "
      "one "
      "hand; dry floor");
  put("S02", "DANGER",
      "Persons with a pacemaker or other implanted device: ignition fields and shocks can stop the device's function",
      "persons with a pacemaker or implant must not work near or hold parts of a running ignition system; leave the "
      "area of a spark test; ask "
      "a "
      "physician",
      true);
  put("S03", "DANGER", "Fuel vapour ignites at a spark outside the cylinder (fire, burns)",
      "shut off fuel; ventilate; wait after flooding; spark tester away from the plug hole and carburettor; "
      "extinguisher at hand; no open plug hole next to the tester",
      true);
  put("S04", "WARNING", "Flywheel, chain, fan, belts and starter can catch hands, hair, clothing",
      "guards on; no loose clothing; stand clear before cranking; remove the key between steps", true);
  put("S05", "CAUTION", "Exhaust, engine and coils are hot: burns",
      "let cool or wear gloves; heat gun below 90 celsius, away from fuel");
  put("S06", "DANGER", "Exhaust carbon monoxide in a closed room", "extraction or outdoors");
  put("S07", "WARNING", "Battery gas explodes; acid burns; a short circuit melts tools",
      "ventilate, eye protection, rings off; minus off first and on last; no sparks near a charging battery");
  put("S09", "NOTICE", "Cranking with an open secondary destroys coil or module",
      "never crank with a lead off unless a grounded gap tester is fitted; keep the gap within the instrument's range");
  put("S10", "NOTICE", "Ohmmeter and insulation tester destroy or mislead control units",
      "unplug the module first; never insulation-test with an electronic unit connected");
  put("S11", "NOTICE", "Pulses above the meter's rating destroy it",
      "peak adapter and rated probes; never an ordinary meter on the coil primary");
  put("S12", "WARNING", "The vehicle can move when cranked",
      "neutral, brake, chocks; lift the driven wheel or declutch; test interlocks last and with care; never defeat an "
      "interlock to move",
      true);
  put("S13", "WARNING",
      "Open kill lead or defeated interlock: the engine cannot be stopped, or runs without operator protection",
      "fuel off, tester at the plug lead; a second way to stop ready (choke, fuel off; pulling the plug lead is not a "
      "safe "
      "stop); restore before leaving");
  put("S15", "CAUTION", "The capacitor in the module holds its charge",
      "wait 1 minute, discharge through 10 to 100 kilohm before touching");
  put("S16", "NOTICE", "Reversed battery, more than 16 volt, or welding current destroys electronics",
      "right polarity, one battery, nothing in series");
  put("S17", "WARNING", "Unstable lift, raised machine", "stand, straps, second person");
  put("S18", "WARNING", "Spring of a recoil housing", "plug lead off before working on it");
  put("S19", "NOTICE", "Long cranking: unburned fuel in the exhaust, hot starter",
      "shut off fuel; crank up to 5 to 10 s, pause 30 to 60 s");
  put("S20", "CAUTION", "Magnets and pullers: pinch, chips", "eye protection, the right puller");
  put("S21", "WARNING", "Solvent, spray, contact cleaner near sparks", "let it dry before cranking");
  put("S22", "WARNING", "Kick-back of kick lever or starter rope (leg, wrist)",
      "never crank by leg or rope with a suspected key, timing or trigger fault: use the starter or a drill, plug out, "
      "lead "
      "earthed",
      true);
  put("S23", "NOTICE", "Battery voltage on the kill lead or the coil primary destroys the module",
      "look for battery volts on the kill lead before anything is connected; feed only a bare wire with both ends off");
  put("S24", "WARNING", "Unplugging a stator with the engine running: high voltage at the open pins, arc, burns",
      "stop, unplug, insulate the ends, restart");
  if (used != ids.size()) throw plugin::Refusal("the family asks for a caution that the shared texts do not have");
}

void add_common_complaints(plugin::Tables& t, const char* spark_ladder) {
  const auto add = [&](const char* id, const char* title, const char* table, const char* margins = "",
                       const char* word = "") {
    t.add(ls_complaint_v1{id, title, margins, "", word, table});
  };
  add("no_spark", "does not start, no spark at the tester",
      "SRC=10 CON=8 INH=10 TRG=10 CTL=10 PRI=6 SEC=3 PLG=2 TIM=1 FUE=0.1 CMP=0.1 AIR=0.1 OTH=1", spark_ladder, "none");
  add("weak_spark", "weak, orange or irregular spark seen",
      "SRC=8 CON=6 INH=2 TRG=3 CTL=4 PRI=6 SEC=5 PLG=4 TIM=0.1 FUE=0.1 CMP=0.1 AIR=0.1 OTH=0.1", spark_ladder,
      "irregular");
  add("spark_no_start", "does not start, spark present",
      "SRC=2 CON=2 INH=1 TRG=1 CTL=1 PRI=2 SEC=3 PLG=6 TIM=6 FUE=10 CMP=6 AIR=4 OTH=2", spark_ladder, "steady");
  add("no_start", "does not start, spark not checked",
      "SRC=6 CON=5 INH=6 TRG=6 CTL=5 PRI=3 SEC=2 PLG=5 TIM=3 FUE=10 CMP=4 AIR=3 OTH=4");
  add("hard_start_cold", "starts badly cold",
      "SRC=7 CON=5 INH=1 TRG=3 CTL=3 PRI=3 SEC=3 PLG=8 TIM=3 FUE=10 CMP=4 AIR=5 OTH=3", spark_ladder, "present");
  add("hard_start_hot", "starts badly or not at all hot",
      "SRC=2 CON=4 INH=1 TRG=10 CTL=8 PRI=7 SEC=4 PLG=2 TIM=2 FUE=8 CMP=5 AIR=2 OTH=2");
  add("starts_then_dies", "starts, dies at once",
      "SRC=3 CON=5 INH=6 TRG=4 CTL=4 PRI=2 SEC=1 PLG=1 TIM=1 FUE=10 CMP=1 AIR=5 OTH=2", spark_ladder, "present");
  add("dies_hot", "misfires or cuts out when hot",
      "SRC=2 CON=4 INH=1 TRG=10 CTL=8 PRI=9 SEC=5 PLG=2 TIM=1 FUE=5 CMP=3 AIR=2 OTH=1", spark_ladder, "present");
  add("dies_wet", "misfires in the wet or after washing",
      "SRC=1 CON=8 INH=7 TRG=3 CTL=2 PRI=4 SEC=10 PLG=3 TIM=0.1 FUE=2 CMP=0.1 AIR=1 OTH=1", spark_ladder, "present");
  add("cuts_on_bumps", "cuts out on bumps",
      "SRC=3 CON=10 INH=8 TRG=3 CTL=4 PRI=2 SEC=2 PLG=1 TIM=0.1 FUE=2 CMP=0.1 AIR=0.1 OTH=1", spark_ladder, "present");
  add("cuts_steering", "cuts out with the steering turned",
      "SRC=0.1 CON=10 INH=8 TRG=1 CTL=0.1 PRI=0.1 SEC=0.1 PLG=0.1 TIM=0.1 FUE=1 CMP=0.1 AIR=0.1 OTH=1", spark_ladder,
      "present");
  add("cuts_out", "sudden cut-out, restarts after rest",
      "SRC=3 CON=8 INH=6 TRG=10 CTL=7 PRI=4 SEC=1 PLG=1 TIM=0.1 FUE=6 CMP=1 AIR=0.1 OTH=2", spark_ladder, "present");
  add("misfire_idle", "misfires at idle",
      "SRC=2 CON=4 INH=1 TRG=3 CTL=2 PRI=4 SEC=5 PLG=9 TIM=3 FUE=7 CMP=6 AIR=9 OTH=1", spark_ladder, "present");
  add("misfire_load", "misfires under load",
      "SRC=3 CON=4 INH=0.1 TRG=2 CTL=3 PRI=7 SEC=10 PLG=9 TIM=3 FUE=7 CMP=4 AIR=2 OTH=1", spark_ladder, "present");
  add("misfire_revs", "misfires at high speed",
      "SRC=6 CON=4 INH=1 TRG=5 CTL=5 PRI=6 SEC=4 PLG=5 TIM=4 FUE=9 CMP=3 AIR=2 OTH=1", spark_ladder, "present");
  add("no_revs", "does not rev, hits a limit early",
      "SRC=5 CON=3 INH=6 TRG=6 CTL=8 PRI=2 SEC=2 PLG=3 TIM=6 FUE=9 CMP=4 AIR=4 OTH=2", spark_ladder, "present");
  add("backfire", "bangs in the exhaust",
      "SRC=1 CON=6 INH=5 TRG=5 CTL=4 PRI=3 SEC=4 PLG=6 TIM=6 FUE=7 CMP=4 AIR=6 OTH=1", spark_ladder, "present");
  add("pops_intake", "pops back through the intake",
      "SRC=1 CON=2 INH=0.1 TRG=3 CTL=2 PRI=1 SEC=2 PLG=2 TIM=8 FUE=10 CMP=5 AIR=7 OTH=0.1", spark_ladder, "present");
  add("kick_back", "kicks back when starting",
      "SRC=2 CON=1 INH=0.1 TRG=4 CTL=2 PRI=0.1 SEC=0.1 PLG=1 TIM=10 FUE=1 CMP=1 AIR=0.1 OTH=3", spark_ladder,
      "present");
}

}  // namespace lostspark::blocks
