#include "job/family_signs.hpp"

#include "base/error.hpp"

namespace lostspark::job {
namespace {

using Weights = std::vector<std::vector<double>>;

struct Row {
  const char* sign;
  std::vector<std::string> answers;
  Weights percent;  // by answer: ac, dc, outboard, magneto, transistor, coil on plug, points, wasted spark
  bool measured;
};

constexpr double k_mistaken_seen = 0.03;      // judgement: like any reading of the program
constexpr double k_mistaken_measured = 0.06;  // judgement: slipped clip, wrong polarity

const std::vector<Row>& rows() {
  static const std::vector<Row> all{
      {"machine",
       {"trail_bike", "atv", "road_bike", "sport_bike", "scooter", "mower", "outboard", "car", "other"},
       {{55, 4, 0, 3, 3, 1, 8, 0},
        {25, 28, 0, 2, 6, 2, 1, 2},
        {5, 15, 0, 1, 55, 10, 28, 35},
        {1, 1, 0, 0, 10, 25, 1, 14},
        {8, 45, 0, 1, 6, 12, 1, 1},
        {1, 2, 0, 85, 2, 0, 4, 1},
        {2, 1, 98, 3, 2, 6, 2, 6},
        {0, 1, 0, 0, 13, 42, 45, 38},
        {3, 3, 2, 5, 3, 2, 10, 3}},
       false},
      {"battery", {"none", "fitted"}, {{85, 0, 30, 75, 0, 0, 0, 0}, {15, 100, 70, 25, 100, 100, 100, 100}}, false},
      {"cylinders",
       {"one", "two", "three", "four", "more"},
       {{97, 96, 2, 95, 65, 20, 35, 3},
        {3, 4, 45, 5, 20, 12, 25, 37},
        {0, 0, 45, 0, 1, 8, 1, 8},
        {0, 0, 7, 0, 13, 42, 32, 42},
        {0, 0, 1, 0, 1, 18, 7, 10}},
       false},
      {"breaker", {"seen", "none"}, {{0, 0, 0, 25, 0, 0, 100, 1}, {100, 100, 100, 75, 100, 100, 0, 99}}, false},
      {"outputs",
       {"one_lead", "two_leads", "distributor", "on_plug"},
       {{99, 97, 97, 97, 72, 6, 58, 0},
        {1, 1, 3, 3, 4, 0, 6, 100},
        {0, 0, 0, 0, 23, 0, 36, 0},
        {0, 2, 0, 0, 1, 94, 0, 0}},
       false},
      {"module_wires",
       {"no_module", "to_seven", "to_fifteen", "more"},
       {{2, 2, 1, 97, 8, 1, 98, 3},
        {95, 90, 35, 3, 60, 3, 2, 15},
        {3, 8, 62, 0, 28, 10, 0, 32},
        {0, 0, 2, 0, 4, 86, 0, 50}},
       false},
      {"coil_wires",
       {"one", "two", "three"},
       {{60, 55, 60, 93, 1, 0, 1, 0}, {40, 45, 40, 6, 92, 70, 97, 62}, {0, 0, 0, 1, 7, 30, 2, 38}},
       false},
      {"stop",
       {"earths", "interrupts", "input"},
       {{98, 12, 97, 99, 3, 1, 2, 3}, {1, 80, 1, 1, 93, 80, 97, 85}, {1, 8, 2, 0, 4, 19, 1, 12}},
       true},
      {"coil_feed", {"battery_volts", "none"}, {{0, 1, 0, 1, 97, 70, 97, 85}, {100, 99, 100, 99, 3, 30, 3, 15}}, true},
      {"primary_ohm",
       {"to_half", "to_one_and_half", "to_six", "more"},
       {{82, 80, 80, 15, 5, 34, 0, 22},
        {17, 18, 18, 50, 22, 55, 13, 50},
        {1, 2, 2, 5, 71, 4, 85, 27},
        {0, 0, 0, 30, 2, 7, 2, 1}},
       true},
      {"first_peak", {"negative", "positive"}, {{97, 97, 97, 30, 3, 3, 3, 3}, {3, 3, 3, 70, 97, 97, 97, 97}}, true},
  };
  return all;
}

inference::SignTable made_table() {
  inference::SignTable table;
  for (const auto& family : known_families()) table.classes.push_back(family.id);
  table.prior = {14, 12, 6, 20, 12, 16, 12, 8};
  for (const auto& row : rows())
    table.signs.push_back({row.sign, row.answers, row.percent, row.measured ? k_mistaken_measured : k_mistaken_seen});
  return table;
}

}  // namespace

const std::vector<KnownFamily>& known_families() {
  static const std::vector<KnownFamily> all{
      {"ac_cdi", "capacitor discharge fed by the flywheel"},
      {"dc_cdi", "capacitor discharge fed by the battery"},
      {"outboard_cdi", "flywheel capacitor discharge of outboards"},
      {"flywheel_magneto", "flywheel magneto"},
      {"transistor_inductive", "battery, control module and one coil"},
      {"coil_on_plug", "engine control unit, a coil on each plug"},
      {"breaker_points", "battery, contact breaker and condenser"},
      {"wasted_spark", "coils with two outputs, two plugs in series"},
  };
  return all;
}

const inference::SignTable& family_signs() {
  static const inference::SignTable table = made_table();
  return table;
}

const std::vector<SignQuestion>& sign_questions() {
  static const std::vector<SignQuestion> all{
      {"machine",
       "what is it?",
       "",
       false,
       {"trail bike", "all-terrain vehicle", "road bike", "sport bike with fairing", "scooter",
        "mower or garden engine", "outboard", "car, pickup or tractor", "something else"},
       {},
       {},
       "judgement"},
      {"battery",
       "is there a battery that the ignition could be fed from?",
       "A battery for the starter counts as fitted.",
       false,
       {"no battery", "a battery is fitted"},
       {},
       {},
       "judgement"},
      {"cylinders", "how many cylinders?", "", false, {"one", "two", "three", "four", "more"}, {}, {}, "judgement"},
      {"breaker",
       "is there a contact breaker (points)?",
       "Behind a round cover at the crankshaft or camshaft, behind the flywheel, or in the distributor.",
       false,
       {"points are seen", "no points, or a sensor in their place"},
       {},
       {},
       "judgement"},
      {"outputs",
       "what leaves an ignition coil on the high-tension side?",
       "Engine off. Follow the thick leads.",
       false,
       {"one lead, to one plug", "two leads, to two plugs", "one lead, to a distributor cap",
        "no lead: the coil sits on the plug"},
       {},
       {"lead_off"},
       "judgement"},
      {"module_wires",
       "how many wires go into the ignition's box?",
       "The box between pick-up and coil; count the wires of its plugs.",
       false,
       {"there is no box", "up to seven", "eight to fifteen", "more: an engine control unit"},
       {},
       {},
       "judgement"},
      {"coil_wires",
       "how many thin wires go to one coil?",
       "Low-tension side only.",
       false,
       {"one, the coil's foot is its earth", "two", "three or more"},
       {},
       {},
       "judgement"},
      {"stop",
       "what does the stop switch do to its wire?",
       "Key off, switch unplugged from the machine; a voltmeter on the wire first, then an ohmmeter on the switch "
       "alone.",
       true,
       {"it joins the wire to earth in STOP", "it opens the supply in STOP",
        "it leads to a box only, and carries little"},
       {"S10", "S23"},
       {"earth_stop_wire", "ohmmeter_on_box"},
       "judgement"},
      {"coil_feed",
       "is there battery voltage at a wire of the coil with the key on, engine still?",
       "Voltmeter from each thin wire of the coil to the engine, coil connected; key on for less than a minute.",
       true,
       {"about battery voltage at one wire or at both", "none"},
       {"S14"},
       {"battery_on_coil", "key_left_on"},
       "judgement"},
      {"primary_ohm",
       "how many ohms between the thin terminals of the coil, or terminal and foot?",
       "Key off, coil unplugged, after a minute's wait; leads' own ohms taken off.",
       true,
       {"up to half an ohm", "half to one and a half ohm", "one and a half to six ohm", "more, or open"},
       {"S10", "S15"},
       {"ohmmeter_on_box", "touch_at_once"},
       "judgement"},
      {"first_peak",
       "which sign has the first peak at the coil's wire while it is cranked?",
       "Peak meter set to either sign in turn, or an oscilloscope; gap testers on all leads, coil connected.",
       true,
       {"the negative one is the greater", "the positive one is the greater"},
       {"S01", "S09", "S11"},
       {"meter_on_pulse", "lead_off"},
       "docs/physics.md, docs/physics-inductive.md"},
  };
  return all;
}

const std::vector<FamilyHazard>& family_hazards() {
  static const std::vector<FamilyHazard> all{
      {"battery_on_coil",
       "feed no battery voltage to coil, stop wire or pulse coil, neither by a bypass lead nor by a lamp: in a magneto "
       "or capacitor discharge they never see it, and the module dies of it",
       {"ac_cdi", "dc_cdi", "outboard_cdi", "flywheel_magneto"},
       "S23"},
      {"earth_stop_wire",
       "touch no stop wire to earth to stop the engine: where the switch interrupts, that wire is the supply and is "
       "short-circuited",
       {"dc_cdi", "transistor_inductive", "coil_on_plug", "breaker_points", "wasted_spark"},
       "S07"},
      {"ohmmeter_on_box",
       "put no ohmmeter and no insulation tester on wires that still go to a box: unplug the part, measure the part",
       {"ac_cdi", "dc_cdi", "outboard_cdi", "transistor_inductive", "coil_on_plug", "wasted_spark"},
       "S10"},
      {"meter_on_pulse",
       "hold no test lamp, ohmmeter or plain meter on the coil's thin wire while it is cranked: 200 to 400 volts; a "
       "peak "
       "adapter stands them",
       {"ac_cdi", "dc_cdi", "outboard_cdi", "flywheel_magneto", "transistor_inductive", "coil_on_plug",
        "breaker_points", "wasted_spark"},
       "S11"},
      {"touch_at_once",
       "do not touch the box's or the coil's terminals at once after cranking: a capacitor may be charged",
       {"ac_cdi", "dc_cdi", "outboard_cdi"},
       "S15"},
      {"key_left_on",
       "do not leave the key on with the engine still: the coil may carry its full current",
       {"breaker_points", "transistor_inductive"},
       "S14"},
      {"lead_off",
       "do not crank with a lead or a coil off its plug and no gap tester in its place",
       {"ac_cdi", "dc_cdi", "outboard_cdi", "flywheel_magneto", "transistor_inductive", "coil_on_plug",
        "breaker_points", "wasted_spark"},
       "S09"},
      {"stop_wire_off",
       "do not run it with the stop wire unplugged: nothing stops it then",
       {"ac_cdi", "outboard_cdi", "flywheel_magneto"},
       "S13"},
      {"cdi_coil",
       "fit no capacitor-discharge coil (under half an ohm) to try: on an inductive driver or on points it draws ten "
       "times the current and burns them",
       {"transistor_inductive", "coil_on_plug", "breaker_points", "wasted_spark"},
       ""},
      {"inductive_coil",
       "fit no inductive coil (over an ohm) to try: on a capacitor-discharge box it gives a weak spark and a false "
       "verdict",
       {"ac_cdi", "dc_cdi", "outboard_cdi"},
       ""},
  };
  return all;
}

const SafetyNote& safety_note(const std::string& id) {
  // In the words of docs/safety.md; the families bring the whole set once one is chosen.
  static const std::vector<SafetyNote> all{
      {"S01", "WARNING", "tens of kilovolts on the secondary, hundreds of volts on the primary: shock, fall",
       "hands off while cranking; connect with the engine off; one hand; dry floor"},
      {"S07", "WARNING", "battery gas explodes, a short melts tools and wires",
       "ventilate, eye protection, rings off; minus off first and on last"},
      {"S09", "NOTICE", "cranking with an open secondary destroys coil, module or driver",
       "never with a lead off unless an earthed gap tester is fitted"},
      {"S10", "NOTICE", "ohmmeter and insulation tester destroy or mislead control units",
       "unplug the unit first; no insulation test on parts with electronics"},
      {"S11", "NOTICE", "pulses above its rating destroy a meter", "peak adapter and rated probes"},
      {"S13", "WARNING", "an open stop wire: the engine cannot be stopped",
       "a second way to stop ready (choke, fuel off); pulling the plug lead is not a safe stop"},
      {"S14", "WARNING", "points closed with the key on overheat the coil",
       "key on under a minute; disconnect between tests"},
      {"S15", "CAUTION", "the storage capacitor holds its charge",
       "wait a minute, discharge through 10 to 100 kohm before touching"},
      {"S23", "NOTICE", "battery volts on a kill lead, magneto module or CDI primary destroy it",
       "feed only terminal 15 or a bare wire with both ends off; check for battery volts first"},
  };
  for (const auto& note : all)
    if (note.id == id) return note;
  throw InternalError("internal error: no safety note " + id + " (please report this)");
}

}  // namespace lostspark::job
