#include "spice/loop.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <fstream>
#include <map>
#include <nlohmann/json.hpp>
#include <ostream>
#include <sstream>
#include <stdexcept>

#include "history/store.hpp"
#include "job/job.hpp"
#include "sources/load.hpp"

namespace lostspark::spice {

namespace {

std::size_t at(Index row) { return static_cast<std::size_t>(row); }

/// Of each vehicle twelve faults that can take its spark away, spread over the circuit, supply and contacts included.
const std::map<std::string, std::vector<std::string>>& faulty_modes() {
  static const std::map<std::string, std::vector<std::string>> modes{
      {"quillmarsh_trail_125",
       {"exciter.shorted_turns", "exciter.short_to_core", "kill_switch.stuck_to_ground", "kill_switch.leaks_damp",
        "control_module.no_output", "control_module.capacitor_leaky", "pulse_coil.wide_gap",
        "coil_connector.pin_1_corroded", "coil_mount.corroded", "ignition_coil.secondary_leak", "spark_plug.fouled_wet",
        "plug_cap.resistor_open"}},
      {"quillmarsh_road_250",
       {"battery.discharged", "plus_post.pin_1_corroded", "stop_switch.dirty", "interlock_relay.contact_burnt",
        "control_module.no_output", "pulse_coil.open_winding", "pulse_coil.wide_gap", "coil_connector.pin_1_corroded",
        "ignition_coil.open_primary", "ignition_coil.secondary_leak", "spark_plug.fouled_wet",
        "plug_cap.resistor_open"}},
      {"quillmarsh_utility_quad",
       {"battery.discharged", "main_fuse.blown", "stop_switch.dirty", "inhibit_switch.stuck",
        "control_module.no_output", "control_module.converter_weak", "pulse_coil.wide_gap",
        "coil_connector.pin_1_corroded", "coil_mount.corroded", "ignition_coil.secondary_leak",
        "ignition_coil.shorted_primary", "spark_plug.fouled_wet"}},
      {"quillmarsh_walk_mower",
       {"air_gap.wide", "flywheel.weak_magnets", "kill_lead.chafed", "stop_lever.leaks_damp",
        "stop_lever.stuck_to_ground", "kill_tab.touches", "ignition_module.dead", "ignition_module.secondary_leak",
        "starting_gear.slow", "ht_lead.open_conductor", "spark_plug.fouled_wet", "plug_cap.cracked"}},
      {"quillmarsh_points_mower",
       {"breaker_points.oxidised", "breaker_points.burnt", "breaker_points.gap_closed_up", "condenser.open",
        "condenser.shorted", "condenser.leaking", "kill_switch.stuck_to_ground", "coil_screws.corroded",
        "ignition_coil.open_primary", "ignition_coil.secondary_leak", "ht_lead.open_conductor",
        "spark_plug.fouled_dry"}},
      {"quillmarsh_classic_twin",
       {"battery.discharged", "stop_connector.pin_2_corroded", "breaker_points_1.burnt",
        "breaker_points_2.gap_closed_up", "condenser_1.shorted", "condenser_2.open", "ignition_coil_1.open_primary",
        "ignition_coil_2.secondary_leak", "coil_connector_1.pin_1_corroded", "plate_screws.corroded",
        "plug_cap_2.resistor_open", "spark_plug_1.fouled_wet"}},
      {"quillmarsh_sport_600",
       {"main_fuse.blown", "main_relay.contact_burnt", "crank_sensor.open_winding", "crank_sensor.wide_gap",
        "control_unit.driver_2_dead", "ignition_coil_1.open_primary", "ignition_coil_3.secondary_leak",
        "coil_4_connector.pin_1_corroded", "boot_2.leaks", "spark_plug_1.fouled_wet", "stand_switch.open",
        "unit_earth.corroded"}},
      {"quillmarsh_outboard_twin",
       {"charge_low.shorted_turns", "charge_low.open_winding", "trigger_coil_1.weak", "trigger_coil_2.open_winding",
        "switch_box.output_dead_1", "lanyard_switch.earthed", "remote_plug.leaks", "ignition_coil_2.secondary_leak",
        "coil_connector_1.pin_1_corroded", "coil_mount_2.corroded", "spark_plug_1.fouled_wet",
        "plug_cap_2.resistor_open"}},
      {"quillmarsh_cruiser_750",
       {"battery.discharged", "stop_switch.dirty", "interlock_relay.contact_burnt", "pulse_coil.open_winding",
        "pulse_coil.wide_gap", "ignition_unit.no_output", "ignition_coil_1.open_primary",
        "ignition_coil_1.tower_a_leaks", "coil_connector.pin_2_corroded", "coil_lead.open",
        "spark_plug_1.fouled_wet", "frame_earth.corroded"}}};
  return modes;
}

constexpr int k_draws = 5;
constexpr int k_most_draws = 150;  ///< of severity and unknowns until the deck has no steady spark

/// 64-bit FNV-1a: the same on every machine.
std::uint64_t hash(std::string_view text, std::uint64_t start = 14695981039346656037ULL) {
  for (const char c : text) start = (start ^ static_cast<unsigned char>(c)) * 1099511628211ULL;
  return start;
}

std::string slurp(const std::filesystem::path& file) {
  std::ifstream in(file, std::ios::binary);
  std::ostringstream text;
  text << in.rdbuf();
  return text.str();
}

const model::Instrument* instrument_of(const model::Workshop& workshop, const model::Test& test) {
  for (const auto& i : workshop.instruments)
    if (i.kind == test.instrument && (i.unit == test.unit || test.is_word())) return &i;
  throw std::runtime_error(fmt::format("the workshop has no {} for {}", test.instrument, test.id));
}

const model::Instrument& peak_meter(const model::Workshop& workshop) {
  const auto* meter = workshop.find("peak_voltmeter", "volt");
  if (!meter) throw std::runtime_error("the workshop has no peak voltmeter");
  return *meter;
}

bool is_elsewhere(const model::Vehicle& v, Index component) {
  return component >= 0 && v.components[at(component)].kind == model::ComponentKind::elsewhere;
}

/// Of each cylinder what tells whether it sparks with its plug fitted (a clamp on the lead would be fooled by a wet plug);
/// where no deck shows that, through a tester.
std::vector<Index> spark_tests(const model::Vehicle& v, const SpiceBench& bench) {
  std::map<std::string, Index> of_cylinder;
  for (const std::string kind : {"plug_kilovolt", "spark"})
    for (std::size_t t = 0; t < v.tests.size(); ++t) {
      const auto& test = v.tests[t];
      if (!test.kind.starts_with(kind) || test.provocation != model::Provocation::none || !bench.can_measure(test)) continue;
      const auto cylinder = test.kind.substr(kind.size());
      if (cylinder.empty() || (cylinder.size() == 2 && cylinder.front() == '_'))
        of_cylinder.emplace(cylinder, static_cast<Index>(t));
    }
  std::vector<Index> out;
  for (const auto& [cylinder, test] : of_cylinder) out.push_back(test);
  if (out.empty()) throw std::runtime_error("no deck tells whether " + v.id + " sparks");
  return out;
}

/// What the customer says: happened counts each cylinder's sparks in three kicks.
std::string complaint_of(const model::Vehicle& v, const std::vector<int>& happened) {
  const auto n = static_cast<std::ptrdiff_t>(happened.size());
  const auto dead = std::count(happened.begin(), happened.end(), 0), sound = std::count(happened.begin(), happened.end(), 3);
  if (dead == n) return "no_spark";
  if (sound == n) return "spark_no_start";
  for (const auto& [count, word] : {std::pair{1, "one_cylinder_dead"}, {2, "two_cylinders_dead"}})
    if (dead == count && sound == n - count && v.find_complaint(word)) return word;
  if (n > 1 && sound == n - 1 && v.find_complaint("one_cylinder_misfires")) return "one_cylinder_misfires";
  return "weak_spark";
}

std::string text_of(const model::Test& test, const model::Value& value) {
  switch (value.kind) {
    case model::ValueKind::word:
      return test.words[value.word];
    case model::ValueKind::below_floor:
      return "below";
    case model::ValueKind::over_range:
      return "over";
    default:
      return fmt::format("{:.4g} {}", value.number, test.unit);
  }
}

}  // namespace

std::string LoopCase::name() const {
  switch (kind) {
    case Kind::healthy:
      return fmt::format("healthy #{}", draw);
    case Kind::slow_kick:
      return fmt::format("slow kick #{}", draw);
    default:
      return fmt::format("{} #{}", mode, draw);
  }
}

std::vector<LoopCase> loop_cases(const std::string& vehicle) {
  const auto modes = faulty_modes().find(vehicle);
  if (modes == faulty_modes().end()) throw std::runtime_error("tests/spice/loop.cpp lists no faults of " + vehicle);
  std::vector<LoopCase> cases;
  for (const auto& mode : modes->second)
    for (int d = 0; d < k_draws; ++d) cases.push_back({LoopCase::Kind::faulty, mode, d});
  for (int d = 0; d < k_draws; ++d) cases.push_back({LoopCase::Kind::healthy, "", d});
  if (vehicle == "quillmarsh_trail_125")
    for (int d = 0; d < k_draws; ++d) cases.push_back({LoopCase::Kind::slow_kick, "", d});
  return cases;
}

SpiceVehicle::SpiceVehicle(std::shared_ptr<const model::Vehicle> vehicle, const model::Workshop& workshop,
                           const std::string& network, const LoopCase& what, std::uint64_t seed)
    : vehicle_(std::move(vehicle)),
      workshop_(workshop),
      bench_(vehicle_, network, peak_meter(workshop).rise_time_second, peak_meter(workshop).input_ohm),
      random_(hash(what.name(), seed)),
      spark_tests_(spark_tests(*vehicle_, bench_)) {
  draw(what);
}

Kick SpiceVehicle::kick() {
  std::normal_distribution<double> normal;
  Kick kick{faults_, log_shift_};
  for (std::size_t p = 0; p < kick.log_shift.size(); ++p)
    kick.log_shift[p] += vehicle_->parameters[p].event_log_sd * normal(random_);
  return kick;
}

int SpiceVehicle::sparks(Index test, int kicks) {
  std::vector<Measurement> measurements;
  std::vector<std::string> decks;
  for (int k = 0; k < kicks; ++k) {
    measurements.push_back(bench_.prepare({test}, kick()));
    decks.push_back(measurements.back().deck);
  }
  const auto runs = run_decks(decks);
  int happened = 0;
  for (std::size_t k = 0; k < runs.size(); ++k) happened += bench_.read(measurements[k], runs[k], 0).happens ? 1 : 0;
  return happened;
}

void SpiceVehicle::draw(const LoopCase& what) {
  const auto& v = *vehicle_;
  std::normal_distribution<double> normal;
  std::uniform_real_distribution<double> unit(0, 1);
  for (int tries = 0; tries < k_most_draws; ++tries) {
    log_shift_.clear();
    calibration_.clear();
    faults_.clear();
    for (const auto& p : v.parameters) log_shift_.push_back(p.log_sd * normal(random_));
    for (const auto& i : workshop_.instruments) calibration_.push_back(i.accuracy_log_sd * normal(random_));
    if (what.kind == LoopCase::Kind::slow_kick)  // about 210 rpm
      log_shift_[at(*v.find_parameter("cranking_speed_rpm"))] = std::log(0.42) + 0.1 * normal(random_);
    severity_ = unit(random_);
    if (what.kind == LoopCase::Kind::faulty) {
      const auto mode = v.find_mode(what.mode);
      if (!mode) throw std::runtime_error(fmt::format("the vehicle has no mode '{}'", what.mode));
      faults_ = {{*mode, severity_}};
    }
    // A faulty vehicle is in the shop because a spark fails; a mild fault that lets it spark would not be. So the first
    // kick must fail on some cylinder, the others tell whether it fails always.
    std::vector<int> happened;
    for (const Index t : spark_tests_) happened.push_back(sparks(t, 1));
    const bool fails = std::find(happened.begin(), happened.end(), 0) != happened.end();
    if (what.kind == LoopCase::Kind::faulty && !fails) continue;
    for (std::size_t c = 0; c < happened.size(); ++c) happened[c] += sparks(spark_tests_[c], 2);
    complaint_ = complaint_of(v, happened);
    return;
  }
  throw std::runtime_error(fmt::format("{}: every severity drawn leaves a steady spark", what.name()));
}

std::string SpiceVehicle::check() {
  int least = 3, most = 0;
  for (const Index t : spark_tests_) {
    const int happened = sparks(t, 3);
    least = std::min(least, happened);
    most = std::max(most, happened);
  }
  if (least == 3) return "";
  return most == 0 ? "none" : spark_tests_.size() == 1 ? "irregular" : "still_there";
}

double SpiceVehicle::rpm() const {
  const auto row = at(*vehicle_->find_parameter("cranking_speed_rpm"));
  return vehicle_->parameters[row].typical * std::exp(log_shift_[row]);
}

bool SpiceVehicle::cured_by(Index repair) const {
  return std::any_of(faults_.begin(), faults_.end(),
                     [&](const circuit::ActiveMode& fault) { return model::mends(*vehicle_, repair, fault.mode); });
}

bool SpiceVehicle::can_read(Index row) const {
  const auto& test = vehicle_->tests[at(row)];
  return test.reads == model::Reads::finding || bench_.can_measure(test);
}

model::Value SpiceVehicle::read(Index row) {
  const auto& test = vehicle_->tests[at(row)];
  std::normal_distribution<double> normal;
  std::uniform_real_distribution<double> unit(0, 1);
  model::Value value;
  if (test.reads == model::Reads::finding) {
    value.kind = model::ValueKind::word;
    for (const auto& f : test.findings)
      for (const auto& fault : faults_)
        if (f.mode == fault.mode && unit(random_) < f.probability) {
          value.word = f.word;
          return value;
        }
    if (unit(random_) < test.false_alarm && test.words.size() > 1)
      value.word = 1 + static_cast<std::size_t>(unit(random_) * static_cast<double>(test.words.size() - 1));
    return value;
  }
  if (test.is_word()) {
    const int happened = sparks(row, 3);
    value.kind = model::ValueKind::word;
    value.word = happened == 0 ? 0 : happened < 3 ? 1 : 2;
    return value;
  }
  const auto* instrument = instrument_of(workshop_, test);
  const double calibration = calibration_[static_cast<std::size_t>(instrument - workshop_.instruments.data())];
  double shown = bench_.measure(row, kick()).value * std::exp(calibration + test.log_sd * normal(random_));
  if (instrument->step > 0) shown = std::round(shown / instrument->step) * instrument->step;
  value.number = std::strtod(fmt::format("{:.6g}", shown).c_str(), nullptr);
  if (shown < instrument->floor) value.kind = model::ValueKind::below_floor;
  if (shown > instrument->range) value.kind = model::ValueKind::over_range;
  return value;
}

LoopResult run_loop(const LoopCase& what, const LoopOptions& options) {
  const auto folders = sources::default_folders();
  const auto source = job::vehicle_source(folders);
  const auto vehicle = source.load(options.vehicle);
  const auto workshop = sources::default_workshop(folders);
  const auto network = fmt::format("{}/networks/{}.toml", LOSTSPARK_SOURCE_DIR, options.vehicle);
  SpiceVehicle truth(vehicle, workshop, network, what, options.seed);
  LoopResult result;
  result.name = what.name();
  result.complaint = truth.complaint();
  result.severity = what.kind == LoopCase::Kind::faulty ? truth.severity() : 0;
  result.rpm = truth.rpm();

  const auto store = history::open_memory();
  job::Desk desk(source, *store, workshop);
  job::Intake intake;
  intake.complaints = {truth.complaint()};
  auto job = desk.open(options.vehicle, intake);
  const auto& v = job.vehicle();
  // What no deck answers, as if it could not be reached.
  for (std::size_t t = 0; t < v.tests.size(); ++t)
    if (!truth.can_read(static_cast<Index>(t))) (void)job.skip(v.tests[t].id, job::SkipReason::cannot_reach);
  const auto take_down = [&] {
    while (!job.state().setups_standing.empty())
      (void)job.setup(v.setups[at(job.state().setups_standing.front())].id, false);
  };
  for (int step = 0; step < options.step_limit; ++step) {
    const auto plan = job.next();
    if (plan.steps.empty() || plan.steps.front().kind == planning::StepKind::refer) {
      // Nobody sends a vehicle away without having seen whether the complaint is there.
      take_down();
      const auto seen = job.state().checks.empty() ? truth.check() : std::string();  // every repair ends with a check
      if (!seen.empty()) {
        result.steps += fmt::format("CHECK {}; ", seen);
        (void)job.check(seen);
        continue;
      }
      result.end = "referred";
      break;
    }
    const auto& advice = plan.steps.front();
    if (advice.kind == planning::StepKind::test) {
      const auto& test = v.tests[at(advice.test)];
      const auto value = truth.read(advice.test);
      (void)job.record(advice.test, value);
      ++result.readings;
      result.steps += fmt::format("{}: {}; ", test.id, text_of(test, value));
      continue;
    }
    const auto& repair = v.repairs[at(advice.repair)];
    result.steps += fmt::format("REPAIR {}; ", repair.id);
    if (truth.cured_by(advice.repair)) {
      result.first_part = repair.id;
      result.end = "cured";
      break;
    }
    if (is_elsewhere(v, repair.component)) {
      // What lies elsewhere is no part of the ignition: the job leaves it here.
      result.end = "elsewhere";
      break;
    }
    if (model::fits_part(repair)) {
      result.first_part = repair.id;
      result.end = "wrong part";
      break;
    }
    ++result.wrong_repairs;
    (void)job.repaired(repair.id);
    take_down();
    (void)job.check("failed");
  }
  if (result.end.empty()) result.end = "step limit";
  result.right = what.kind == LoopCase::Kind::faulty ? result.end == "cured" : result.first_part.empty();
  return result;
}

std::vector<LoopResult> run_loops(const std::vector<LoopCase>& cases, const std::filesystem::path& file,
                                  const LoopOptions& options) {
  // Results of another program, plugin or network never mix with these.
  std::uint64_t print = hash(slurp("/proc/self/exe"));
  print = hash(slurp(fmt::format("{}/networks/{}.toml", LOSTSPARK_SOURCE_DIR, options.vehicle)), print);
  std::vector<std::filesystem::path> parts;
  for (const auto& entry : std::filesystem::directory_iterator(LOSTSPARK_PLUGIN_DIR)) parts.push_back(entry.path());
  for (const auto& entry : std::filesystem::directory_iterator(LOSTSPARK_SOURCE_DIR "/tests/spice"))
    if (entry.path().extension() == ".inc") parts.push_back(entry.path());
  std::sort(parts.begin(), parts.end());
  for (const auto& part : parts) print = hash(slurp(part), print);
  const auto fingerprint = fmt::format("{:016x} seed {}", print, options.seed);
  std::map<std::string, LoopResult> done;
  std::ifstream in(file);
  for (std::string line; std::getline(in, line);) {
    const auto row = nlohmann::json::parse(line, nullptr, false);
    if (row.is_discarded() || row.value("fingerprint", "") != fingerprint) continue;  // a line cut off by a stop
    LoopResult r{row["name"],          row["complaint"],  row["severity"], row["rpm"],   row["readings"],
                 row["wrong_repairs"], row["first_part"], row["end"],      row["right"], row["steps"]};
    done[r.name] = r;
  }
  std::vector<LoopResult> results;
  for (const auto& what : cases) {
    if (const auto found = done.find(what.name()); found != done.end()) {
      results.push_back(found->second);
      continue;
    }
    const auto r = run_loop(what, options);
    nlohmann::json row{{"fingerprint", fingerprint},
                       {"name", r.name},
                       {"complaint", r.complaint},
                       {"severity", r.severity},
                       {"rpm", r.rpm},
                       {"readings", r.readings},
                       {"wrong_repairs", r.wrong_repairs},
                       {"first_part", r.first_part},
                       {"end", r.end},
                       {"right", r.right},
                       {"steps", r.steps}};
    std::ofstream(file, std::ios::app) << row.dump() << std::endl;
    results.push_back(r);
  }
  return results;
}

void write_loop_table(std::ostream& out, const std::vector<LoopResult>& results) {
  out << "| fault | right | readings | what came out otherwise |\n|---|--:|--:|---|\n";
  for (std::size_t k = 0; k < results.size();) {
    const auto fault = results[k].name.substr(0, results[k].name.find(" #"));
    int all = 0, right = 0, readings = 0;
    std::string otherwise;
    for (; k < results.size() && results[k].name.starts_with(fault + " #"); ++k) {
      const auto& r = results[k];
      ++all;
      readings += r.readings;
      right += r.right ? 1 : 0;
      if (r.right) continue;
      otherwise += fmt::format("{}severity {:.2f}, {}: {}", otherwise.empty() ? "" : "; ", r.severity, r.complaint,
                               r.first_part.empty() ? r.end : r.first_part);
    }
    out << fmt::format("| {} | {} of {} | {:.1f} | {} |\n", fault, right, all, static_cast<double>(readings) / all,
                       otherwise);
  }
}

}  // namespace lostspark::spice
