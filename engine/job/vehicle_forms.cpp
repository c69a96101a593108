#include "job/vehicle_forms.hpp"

#include <algorithm>

#include "base/error.hpp"
#include "sources/text.hpp"

namespace lostspark::job {
namespace {

using Names = std::vector<std::string>;

VehicleForm trail_bike() {
  return {"trail_bike",
          "trail bike",
          {{"seat", "seat", 2, 2, {}},
           {"side_panel", "side panel", 1, 1, {}},
           {"fuel_tank", "fuel tank", 6, 8, {"seat"}, false},
           {"headlight_mask", "headlight mask", 3, 4, {}},
           {"flywheel_cover", "flywheel cover", 6, 8, {}, false},
           {"flywheel_off", "flywheel (with puller)", 10, 10, {"flywheel_cover"}, false}},
          {{{"flywheel_key", "stator_plate"}, {"flywheel_off"}},
           {{"exciter", "stator"}, {"flywheel_off"}, -1, true, {"side_panel"}},
           {{"pulse_coil", "crank_sensor"}, {"flywheel_cover"}, -1, true, {"side_panel"}},
           {{"flywheel", "breaker_points", "condenser", "points_plate", "points_cam", "advance_unit", "air_gap"},
            {"flywheel_cover"}},
           {{"control_module", "control_unit", "interlock_relay"}, {"side_panel"}},
           {{"ignition_coil", "coil_splice"}, {"fuel_tank"}, 3},
           {{"key_switch"}, {"headlight_mask"}},
           {{"kill_switch", "tether_switch", "stop_switch"}, {}, -1, true, {"headlight_mask"}},
           {{"battery", "main_fuse", "regulator", "coil_fuse", "main_relay", "starter"}, {"seat"}},
           {{"wiring_loom"}, {"side_panel", "fuel_tank"}}}};
}

VehicleForm atv() {
  return {"atv",
          "all-terrain vehicle",
          {{"seat", "seat", 1, 1, {}},
           {"front_plastics", "front rack and plastics", 12, 14, {"seat"}},
           {"tank_cover", "tank cover", 5, 5, {}},
           {"recoil_cover", "footwell and stator cover", 14, 19, {}, false},
           {"handlebar_pod", "handlebar pod", 5, 5, {}}},
          {{{"flywheel", "flywheel_key", "stator_plate"}, {"recoil_cover"}},
           {{"exciter", "stator", "pulse_coil", "crank_sensor"}, {"recoil_cover"}, -1, true, {"seat"}},
           {{"battery", "main_fuse", "regulator", "control_module", "control_unit", "interlock_relay", "coil_fuse",
             "main_relay", "starter", "alarm_splice", "tip_sensor"},
            {"seat"}},
           {{"ignition_coil", "coil_splice"}, {"tank_cover"}, 3},
           {{"spark_plug", "plug_cap", "ht_joint", "ht_lead", "boot", "plug_well"}, {"tank_cover"}, 2},
           {{"key_switch", "stop_switch", "kill_switch", "tether_switch"}, {"handlebar_pod"}},
           {{"wiring_loom"}, {"front_plastics"}}}};
}

VehicleForm road_bike() {
  return {"road_bike",
          "road bike",
          {{"seat", "seat", 1, 1, {}},
           {"side_panel", "side panel", 1, 1, {}},
           {"fuel_tank", "fuel tank", 5, 6, {"seat"}, false},
           {"headlight", "headlight bucket", 6, 8, {}},
           {"crank_cover", "round cover at the crankshaft", 2, 2, {}},
           {"alternator_cover", "alternator cover", 8, 10, {}, false}},
          {{{"battery", "main_fuse", "regulator", "starter", "control_module", "control_unit", "interlock_relay",
             "alarm_splice", "coil_fuse", "main_relay", "tip_sensor"},
            {"side_panel"}},
           {{"ignition_coil", "coil_splice"}, {"fuel_tank"}, 3},
           {{"key_switch", "stop_switch", "kill_switch"}, {"headlight"}},
           {{"pulse_coil", "crank_sensor"}, {"crank_cover"}, -1, true, {"side_panel"}},
           {{"breaker_points", "condenser", "points_plate", "points_cam", "advance_unit"}, {"crank_cover"}},
           {{"stator", "exciter", "flywheel", "flywheel_key"}, {"alternator_cover"}, -1, true, {"side_panel"}},
           {{"wiring_loom"}, {"fuel_tank"}}}};
}

VehicleForm sport_bike() {
  return {"sport_bike",
          "sport bike with fairing",
          {{"rider_seat", "rider's seat", 2, 2, {}},
           {"side_fairing", "side fairing", 8, 10, {}},
           {"nose_fairing", "nose fairing", 18, 20, {"side_fairing"}},
           {"fuel_tank", "fuel tank", 8, 10, {"rider_seat"}, false},
           {"airbox", "airbox", 15, 18, {"fuel_tank"}, false},
           {"crank_cover", "crank cover (gasket, oil)", 15, 20, {"side_fairing"}, false}},
          {{{"battery", "starter", "main_fuse", "coil_fuse", "main_relay", "control_unit", "control_module",
             "tip_sensor", "interlock_relay", "alarm_splice"},
            {"rider_seat"}},
           {{"regulator"}, {"side_fairing"}},
           {{"stator", "crank_sensor", "pulse_coil"}, {"crank_cover"}, -1, true, {"side_fairing"}},
           {{"key_switch", "immobiliser"}, {"nose_fairing"}},
           {{"stop_switch"}, {}, -1, true, {"nose_fairing"}},
           {{"coil_splice", "wiring_loom"}, {"fuel_tank"}},
           {{"cam_sensor", "ignition_coil"}, {"airbox"}, -1, true, {"fuel_tank"}},
           {{"boot", "plug_well", "spark_plug", "plug_cap", "ht_joint", "ht_lead"}, {"airbox"}}}};
}

VehicleForm scooter() {
  return {"scooter",
          "scooter",
          {{"seat_bucket", "seat and storage bucket", 6, 7, {}},
           {"battery_hatch", "battery hatch", 2, 2, {}},
           {"front_apron", "front apron", 8, 10, {}},
           {"side_body", "side body", 10, 12, {"seat_bucket"}},
           {"fan_shroud", "fan shroud", 8, 8, {"side_body"}, false},
           {"handlebar_cover", "handlebar cover", 7, 8, {}}},
          {{{"battery", "main_fuse"}, {"battery_hatch"}},
           {{"key_switch", "control_module", "control_unit", "main_relay", "coil_fuse", "interlock_relay",
             "immobiliser", "wiring_loom"},
            {"front_apron"}},
           {{"ignition_coil", "regulator", "coil_splice", "starter", "stator_connector"}, {"side_body"}},
           {{"pulse_coil", "stator", "exciter", "crank_sensor"}, {"fan_shroud"}, -1, true, {"side_body"}},
           {{"flywheel", "flywheel_key", "stator_plate"}, {"fan_shroud"}},
           {{"spark_plug", "plug_cap", "ht_joint", "ht_lead", "boot", "plug_well"}, {"seat_bucket"}, 3},
           {{"stop_switch", "kill_switch", "inhibit_switch"}, {"handlebar_cover"}}}};
}

VehicleForm mower() {
  return {"mower",
          "mower or garden engine",
          {{"hood", "hood", 1, 1, {}},
           {"shroud", "blower shroud", 10, 12, {"hood"}, false},
           {"flywheel_off", "flywheel (with puller)", 12, 12, {"shroud"}, false},
           {"dash", "dash panel", 8, 10, {}},
           {"seat_pan", "seat pan", 1, 1, {}}},
          {{{"flywheel_key", "breaker_points", "condenser", "points_plate", "cam_follower", "crank_seal",
             "crank_bearing", "stator_plate"},
            {"flywheel_off"}},
           {{"flywheel", "air_gap", "ignition_module", "ignition_coil", "kill_tab", "exciter", "pulse_coil", "stator"},
            {"shroud"}},
           {{"battery", "seat_switch"}, {"seat_pan"}},
           {{"key_switch", "interlock_relay", "main_fuse"}, {"dash"}},
           {{"spark_plug", "plug_cap", "ht_joint", "ht_lead", "starter", "wiring_loom"}, {"hood"}}}};
}

VehicleForm outboard() {
  return {"outboard",
          "outboard",
          {{"cowl", "cowl", 1, 1, {}},
           {"electrics_panel", "cover of the electrics panel", 4, 4, {"cowl"}},
           {"flywheel_guard", "flywheel guard", 3, 3, {"cowl"}, false},
           {"flywheel_off", "flywheel (with puller)", 25, 25, {"flywheel_guard"}, false},
           {"console", "remote box or side console", 10, 12, {}}},
          {{{"switch_box", "control_module", "control_unit", "main_relay", "coil_fuse"}, {"electrics_panel"}},
           {{"charge_low", "charge_high", "trigger_coil", "stator", "exciter", "pulse_coil"},
            {"flywheel_off"},
            -1,
            true,
            {"electrics_panel"}},
           {{"trigger_plate", "flywheel_key", "stator_plate"}, {"flywheel_off"}},
           {{"flywheel"}, {"flywheel_guard"}},
           {{"key_switch", "lanyard_switch"}, {"console"}},
           {{"spark_plug", "plug_cap", "ht_joint", "ht_lead", "boot", "plug_well", "ignition_coil", "rectifier",
             "regulator", "limiter_sensor", "starter", "remote_plug", "wiring_loom", "main_fuse", "coil_splice",
             "crank_sensor", "cam_sensor"},
            {"cowl"}}}};
}

VehicleForm car() {
  return {"car",
          "car, pickup or tractor",
          {{"engine_cover", "engine cover", 1, 1, {}},
           {"air_duct", "air duct and filter housing", 4, 5, {}, false},
           {"underdash", "trim under the dash", 8, 8, {}},
           {"splash_shield", "splash shield", 5, 5, {}},
           {"wheel_liner", "wheel and liner", 12, 14, {}, false}},
          {{{"ignition_coil", "coil_splice", "spark_plug", "plug_cap", "ht_joint", "ht_lead", "boot", "plug_well"},
            {"engine_cover"}},
           {{"key_switch", "immobiliser", "control_unit", "alarm_splice"}, {"underdash"}},
           {{"crank_sensor", "pulse_coil"}, {"wheel_liner"}, -1, true, {"splash_shield"}},
           {{"cam_sensor", "wiring_loom"}, {"air_duct"}}}};
}

bool fits(const std::string& stem, const std::string& component) {
  return component == stem || (component.starts_with(stem + "_") && component.size() > stem.size() + 1 &&
                               component.find_first_not_of("0123456789", stem.size() + 1) == std::string::npos);
}

const sources::DraftCover& cover_of(const VehicleForm& form, const std::string& id) {
  Names ids;
  for (const auto& c : form.covers) {
    if (c.id == id) return c;
    ids.push_back(c.id);
  }
  throw InputError("a " + form.title + " has no cover '" + id + "' here" + sources::suggestion(id, ids));
}

std::string words_for(const VehicleForm& form, const Names& covers) {
  if (covers.empty()) return "in the open";
  Names titles;
  for (const auto& id : covers) titles.push_back("the " + cover_of(form, id).title);
  return "behind or under " + sources::join(titles, " and ");
}

}  // namespace

const std::vector<VehicleForm>& vehicle_forms() {
  static const std::vector<VehicleForm> all{trail_bike(), atv(),     road_bike(),
                                            sport_bike(), scooter(), mower(),
                                            outboard(),   car(),     {"other", "machine", {}, {}}};
  return all;
}

const VehicleForm& vehicle_form(std::string_view id) {
  Names ids;
  for (const auto& form : vehicle_forms()) {
    if (form.id == (id.empty() ? "other" : id)) return form;
    ids.push_back(form.id);
  }
  throw InputError("there is no form '" + std::string(id) + "'" + sources::suggestion(id, ids));
}

sources::DraftPlace place_of(const VehicleForm& form, const std::string& component) {
  for (const auto& row : form.places)
    if (std::any_of(row.stems.begin(), row.stems.end(), [&](const auto& stem) { return fits(stem, component); }))
      return {component, words_for(form, row.covers), row.covers, row.blind_min, row.plug, row.plug_elsewhere};
  return place_under(form, component, {});
}

sources::DraftPlace place_under(const VehicleForm& form, const std::string& component, const Names& covers) {
  return {component, words_for(form, covers), covers, -1, {}, false};
}

}  // namespace lostspark::job
