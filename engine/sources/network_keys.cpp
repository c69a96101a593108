#include "sources/network_keys.hpp"

#include "base/error.hpp"

namespace lostspark::sources {
namespace {

const Key k_place{"place", "text", "empty", "where it is, in words: \"behind the left side panel\""};
const Key k_covers{"covers", "list of cover ids", "none", "covers that must be off to reach it"};
const Key k_blind{"blind_min", "minute", "not possible",
                  "reach it for a probe without taking the covers off, in this time"};
const Key k_zones{"zones", "list", "none", "what it suffers: \"heat\", \"wet\", \"vibration\", \"steering\""};
const Key k_exposure{"exposure", "factor", "1",
                     "how much of the link's share falls on it, against the link's other items"};
const Key k_note{"note", "text", "empty", "where the number comes from: a page, a person"};
const Key k_probe{"probe", "true or false", "true", "a meter can get there while the circuit works"};
const Key k_contact{"contact_ohm", "ohm", "0.01", "resistance of one sound contact"};

std::vector<SectionKeys> make_network() {
  return {
      {"vehicle",
       false,
       false,
       {{"id", "identifier", "required", "name of the network; jobs are booked under it"},
        {"title", "text", "required", "name for a person"},
        {"family", "identifier", "required", "id of the family plugin; never a path"},
        {"kind", "text", "empty", "what it is: \"trail bike\", \"utility ATV\""},
        {"ignition_faults_per_vehicle", "expected number", "0.08",
         "L of p = L share / 1000: expected ignition faults of a vehicle, before any complaint"},
        {"elsewhere_share", "fraction", "as the family states",
         "part of the complaints first booked as ignition that are not; scales the shares of all faults elsewhere"},
        {"provocations", "list of condition ids", "all of the family",
         "provocations (hot, shaken ...) that are worth offering on this vehicle"}}},
      {"options", false, true, {}},
      {"prices",
       false,
       false,
       {{"class_1", "units of money", "8", "part under 10"},
        {"class_2", "units of money", "25", "part from 10 to 40"},
        {"class_3", "units of money", "80", "part from 40 to 120"},
        {"class_4", "units of money", "200", "part from 120 to 300"},
        {"class_5", "units of money", "400", "part over 300"}}},
      {"parameter",
       true,
       false,
       {{"id", "parameter id", "required", "parameter of the family"},
        {"value", "unit of the parameter", "the family's", "healthy median; may be written value_UNIT, as value_volt"},
        {"log_sd", "natural log", "the family's", "spread between healthy vehicles of this network"},
        {"event_log_sd", "natural log", "the family's", "further spread, redrawn at every crank or kick"},
        {"origin", "\"service_data\", \"shop\" or \"judgement\"", "required", "where the value comes from"},
        k_note}},
      {"cover",
       true,
       false,
       {{"id", "identifier", "required", "name of the cover"},
        {"title", "text", "the id in words", "name for a person"},
        {"remove_min", "minute", "required", "time to take it off"},
        {"refit_min", "minute", "required", "time to put it back"},
        {"first", "list of cover ids", "none", "covers that must be off before it"},
        {"may_run_without", "true or false", "true", "the engine may run while it is off"}}},
      {"connector",
       true,
       false,
       {{"id", "identifier", "required", "its name, used in chains"},
        {"title", "text", "the id in words", "name for a person: \"4-pole white connector\""},
        k_place,
        k_covers,
        k_blind,
        k_zones,
        k_exposure,
        {"pins", "list of texts", "required", "its pins; each belongs to one chain"},
        k_contact,
        k_probe}},
      {"splice",
       true,
       false,
       {{"id", "identifier", "required", "its name, used in chains"},
        {"title", "text", "the id in words", "name for a person"},
        k_place,
        k_covers,
        k_blind,
        k_zones,
        k_exposure,
        k_contact,
        k_probe}},
      {"earth_point",
       true,
       false,
       {{"id", "identifier", "required", "its name, used in chains"},
        {"title", "text", "the id in words", "name for a person"},
        k_place,
        k_covers,
        k_blind,
        k_zones,
        k_exposure,
        k_contact,
        k_probe,
        {"strap", "earth_point id", "none",
         "the earth point it leads to before bare engine metal: what both carry is common to all chains on it"}}},
      {"chain",
       true,
       false,
       {{"link", "link id", "required", "link of the family that these items make"},
        {"items", "list of items", "required", "from the link's first terminal to its second"}}},
      {"component",
       true,
       false,
       {{"id", "component id", "required", "component of the family"},
        {"title", "text", "the family's", "name for a person"},
        k_place,
        k_covers,
        k_blind,
        k_probe,
        {"price", "units of money", "of its price class", "price of the part"},
        {"age_factor", "factor", "1", "exposure: multiplies the prior of all its modes"}}},
      {"repair",
       true,
       false,
       {{"id", "component.repair", "required", "repair of the family or of a harness item"},
        {"labour_min", "minute", "the family's", "hands-on time, without access"},
        {"success", "probability", "the family's", "that it cures its modes"},
        {"price", "units of money", "of its price class", "parts used"},
        {"covers", "list of cover ids", "the component's", "covers that must be off for it"}}},
      {"access",
       true,
       false,
       {{"test", "test kind id", "required", "test kind that is not along the harness (outputs, words, findings)"},
        {"component", "component id", "none", "place, covers and blind_min are those of this component"},
        k_place,
        k_covers,
        k_blind,
        {"offered", "true or false", "true", "false: this test is not possible on this vehicle"},
        {"provoked", "true or false", "true", "false: not worth repeating under heat, water, shaking ..."}}},
      {"healthy",
       true,
       false,
       {{"test", "test id, * for any run of characters", "required",
         "tests the band is for; the first that fits counts"},
        {"low", "unit of the test", "computed", "least healthy reading"},
        {"high", "unit of the test", "computed", "greatest healthy reading; left out where only a minimum is stated"},
        {"origin", "\"service_data\", \"shop\" or \"judgement\"", "required", "where the band comes from"},
        k_note}},
  };
}

std::vector<SectionKeys> make_workshop() {
  return {
      {"workshop",
       false,
       false,
       {{"title", "text", "Quillmarsh Workshop", "name on the sheet"},
        {"helper", "true or false", "true", "somebody can crank while another reads"},
        {"labour_rate_per_hour", "units of money", "60", "turns money into minutes"},
        {"check_min", "minute", "5", "functional check after a repair"},
        {"refer_min", "minute", "600", "cost of referring the job out, as minutes"},
        {"comeback_min", "minute", "90", "cost of a comeback, as minutes"}}},
      {"instrument",
       true,
       false,
       {{"id", "identifier", "required", "name of the instrument (one row for each unit it reads)"},
        {"title", "text", "the id in words", "name for a person"},
        {"kind", "identifier", "required",
         "what test kinds ask for: peak_voltmeter, ohmmeter, multimeter, kv_pickup, current_pickup, gap_tester, eyes, "
         "timing_light"},
        {"unit", "text", "required", "volt, ohm, kilovolt, ampere, rpm, degree or word"},
        {"accuracy", "fraction", "0.03", "calibration error, one draw a job"},
        {"step", "unit of the instrument", "0", "display step"},
        {"floor", "unit of the instrument", "0", "below this it shows about zero"},
        {"range", "unit of the instrument", "1e9", "above this it shows over"},
        {"input_ohm", "ohm", "1e12", "its load on the circuit"},
        {"rise_time_second", "second", "1e-6", "response of a peak reading"}}},
  };
}

const SectionKeys& find(std::span<const SectionKeys> sections, const std::string& name) {
  for (const auto& section : sections)
    if (section.name == name) return section;
  throw InternalError("internal error: no section " + name + " (please report this)");
}

}  // namespace

std::vector<std::string> SectionKeys::names() const {
  std::vector<std::string> names;
  for (const auto& key : keys) names.emplace_back(key.name);
  return names;
}

std::span<const SectionKeys> network_sections() {
  static const auto sections = make_network();
  return sections;
}
const SectionKeys& network_section(const char* name) { return find(network_sections(), name); }

const SectionKeys& chain_item_keys() {
  static const SectionKeys keys{
      "items",
      true,
      false,
      {{"wire", "identifier", "-", "a wire, named here"},
       {"connector", "connector id", "-", "one contact of a connector, with `pin`"},
       {"splice", "splice id", "-", "a splice"},
       {"earth_point", "earth_point id", "-", "an earth point; the last item of a chain"},
       {"joins", "node id", "-",
        "first or last item only: the chain begins or ends at a node of another chain (connector.pin.side, "
        "splice.side, "
        "wire.far_end)"},
       {"pin", "text", "required with connector", "pin of the connector"},
       {"ohm", "ohm", "0.02", "wire: resistance of the sound wire"},
       {"colour", "IEC 60757 letters", "empty", "wire: \"BKRD\" is black with red"},
       {"title", "text", "the id in words", "wire: name for a person"},
       k_place,
       {"part_of", "component id", "none", "wire: one piece with this component, as a coil's own lead, and renewed with it"},
       {"covers", "list of cover ids", "those of its two neighbours", "wire: covers that must be off to mend it"},
       k_zones,
       k_exposure}};
  return keys;
}

std::span<const SectionKeys> workshop_sections() {
  static const auto sections = make_workshop();
  return sections;
}
const SectionKeys& workshop_section(const char* name) { return find(workshop_sections(), name); }

}  // namespace lostspark::sources
