// Instruments the shop owns: what they can show and how far they can be trusted.
#pragma once

#include <string>
#include <vector>

namespace lostspark::model {

/// One measuring range set of one instrument; `kind` is what test kinds ask for.
struct Instrument {
  std::string id, title;
  std::string kind;               ///< "peak_voltmeter", "ohmmeter", "multimeter", "kv_pickup", "current_pickup",
                                  ///< "gap_tester", "eyes", "timing_light"
  std::string unit;               ///< unit of floor, range and step: volt, ohm, kilovolt, ampere, rpm, word
  double accuracy_log_sd = 0.03;  ///< calibration of this instrument, one draw a job
  double step = 0;                ///< display step, in unit; 0: none
  double floor = 0;               ///< below this it shows "below" (about zero)
  double range = 1e9;             ///< above this it shows "over"
  double input_ohm = 1e12;        ///< loading of the circuit
  double rise_time_second = 1e-6; ///< response of a peak reading
};

/// What the shop has today.
struct Workshop {
  std::string title = "Quillmarsh Workshop";
  std::vector<Instrument> instruments;
  bool helper = true;             ///< somebody can crank
  double labour_rate_per_hour = 60;  ///< units of money; judgement, docs/costs.md
  double check_min = 5;           ///< functional check after a repair
  double refer_min = 600;         ///< cost of referring the job out, as minutes; judgement, docs/costs.md
  double comeback_min = 90;       ///< cost of a comeback, as minutes; judgement
  /// First instrument of the kind and unit, or nullptr: the test cannot be done here.
  [[nodiscard]] const Instrument* find(const std::string& kind, const std::string& unit) const {
    for (const auto& i : instruments)
      if (i.kind == kind && (i.unit == unit || unit.empty())) return &i;
    return nullptr;
  }
};

}  // namespace lostspark::model
