// Constants of the generative model that inference, the simulated bench and the checks must share (docs/model.md). All are
// engineering judgement, no source.
#pragma once

#include <algorithm>
#include <span>

#include "model/vehicle.hpp"

namespace lostspark::model {

/// Words of the spark: irregular within this log distance of margin 0 ...
inline constexpr double k_word_half_width = 0.10;
/// ... smeared by this sd from kick to kick: a gap breaks down over about 10 % of its demand.
inline constexpr double k_word_sd = 0.10;
/// Moving a contact cures (or hides) its fault with this probability.
inline constexpr double k_touch_cures = 0.3;
/// A part that cleaning did not mend, cleaning it again mends with this share of the success before: it is worn or eaten,
/// not dirty.
inline constexpr double k_cleaned_again = 0.3;
/// Probability that a repair mends its fault, after it was done so many times for nothing. A second new part, an adjustment
/// or a wire made anew mends as the first did; a contact cleaned for nothing gets new terminals the next time.
inline double success_after(const Vehicle& vehicle, Index repair, int times) {
  const auto& r = vehicle.repairs[static_cast<std::size_t>(repair)];
  double success = r.success;
  if (r.kind != RepairKind::clean || r.component == k_none ||
      is_contact(vehicle.components[static_cast<std::size_t>(r.component)].kind))
    return success;
  for (int k = 0; k < times; ++k) success *= k_cleaned_again;
  return success;
}
/// Severity is uniform on [0, 1] but for this mass, half of it on either side, over this distance: none is impossible.
inline constexpr double k_severity_tail_mass = 0.05;
inline constexpr double k_severity_tail = 0.25;
/// Probability that the complaint was misreported.
inline constexpr double k_complaint_mistaken = 0.03;
/// Probability that a functional check is judged wrongly, a complaint that comes and goes apart.
inline constexpr double k_check_mistaken = 0.03;
/// Likelihood of a complaint by table, on its scale of 0 to 10, where nothing is wrong.
inline constexpr double k_complaint_without_fault = 0.02;
/// Shares of a mistaken number reading: about zero, over range, and the rest uniform in the log of the instrument's range.
inline constexpr double k_mistaken_floor = 0.45;
inline constexpr double k_mistaken_over = 0.05;
inline constexpr double k_mistaken_inside = 0.5;

/// Whether the cylinders are as a computed complaint says, given the stage outputs while cranking; `smear` draws the
/// shift of a word's margin from kick to kick.
template <class Smear>
bool shows(const Complaint& complaint, std::span<const double> outputs, Smear smear) {
  std::size_t so_many = 0, better = 0;
  for (const auto& ladder : complaint.cylinders) {
    double margin = outputs[static_cast<std::size_t>(ladder.back())] + smear();
    for (std::size_t k = 0; k + 1 < ladder.size(); ++k)
      if (outputs[static_cast<std::size_t>(ladder[k])] < 0) margin = -99;
    const std::size_t word = margin < -k_word_half_width ? 0 : margin < k_word_half_width ? 1 : 2;
    so_many += complaint.spark_present() ? word > 0 : word == complaint.word;
    better += word > complaint.word;
  }
  const std::size_t count = complaint.cylinders.size();
  const std::size_t wanted = complaint.extent == Extent::one ? 1 : complaint.extent == Extent::two ? 2 : count;
  return so_many == std::min(wanted, count) && so_many + better == count;
}

}  // namespace lostspark::model
