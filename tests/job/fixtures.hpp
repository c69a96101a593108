// A hand-made vehicle for the job room's tests: no plugin, no file.
#pragma once

#include "job/job.hpp"

namespace lostspark::job::test {

[[nodiscard]] inline model::Test number_test(std::string unit = "volt") {
  model::Test t;
  t.id = "exciter_peak@control_module.source";
  t.title = "exciter coil peak";
  t.unit = std::move(unit);
  t.kind = "exciter_peak";
  t.instrument = "peak_voltmeter";
  return t;
}

[[nodiscard]] inline model::Test spark_test() {
  model::Test t;
  t.id = "spark@plug";
  t.title = "spark at the gap tester";
  t.unit = "word";
  t.kind = "spark";
  t.reads = model::Reads::margin_word;
  t.words = {"none", "irregular", "steady"};
  t.instrument = "gap_tester";
  return t;
}

[[nodiscard]] inline model::Instrument peak_meter() {
  model::Instrument i;
  i.id = "peak_meter";
  i.title = "peak voltmeter";
  i.kind = "peak_voltmeter";
  i.unit = "volt";
  i.floor = 0.5;
  i.range = 400;
  return i;
}

[[nodiscard]] inline model::Instrument ohmmeter() {
  model::Instrument i;
  i.id = "ohmmeter";
  i.title = "ohmmeter";
  i.kind = "ohmmeter";
  i.unit = "ohm";
  i.floor = 0.1;
  i.range = 2e7;
  return i;
}

/// Exciter, module, kill line with two switches, fuel; four tests, three covers, two set-ups.
[[nodiscard]] std::shared_ptr<model::Vehicle> small_vehicle(const std::string& version = "1.0.0");
[[nodiscard]] model::Workshop small_workshop();
[[nodiscard]] VehicleSource small_source(const std::string& version = "1.0.0");
[[nodiscard]] Desk small_desk(history::Store& store, const std::string& version = "1.0.0");

/// What the log says to inference, labels renamed in order of appearance: equal texts mean equal evidence.
[[nodiscard]] std::string evidence_text(const State&);
/// The whole state but for sequence numbers and times.
[[nodiscard]] std::string state_text(const State&);

inline constexpr const char* k_peak = "exciter_peak@control_module.source";
inline constexpr const char* k_peak_unplugged = "exciter_peak@control_module.source+kill_unplugged";
inline constexpr const char* k_spark = "spark@plug";
inline constexpr const char* k_ohm = "exciter_ohm@exciter_coil.output";

}  // namespace lostspark::job::test
