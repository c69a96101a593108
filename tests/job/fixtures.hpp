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

}  // namespace lostspark::job::test
