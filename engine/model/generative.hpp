// Constants of the generative model that inference, the simulated bench and the checks must share (docs/model.md). All are
// engineering judgement, no source.
#pragma once

namespace lostspark::model {

/// Words of the spark: irregular within this log distance of margin 0 ...
inline constexpr double k_word_half_width = 0.10;
/// ... smeared by this sd from kick to kick: a gap breaks down over about 10 % of its demand.
inline constexpr double k_word_sd = 0.10;
/// Moving a contact cures (or hides) its fault with this probability.
inline constexpr double k_touch_cures = 0.3;
/// Severity is uniform on [0, 1] but for this mass, half of it on either side, over this distance: none is impossible.
inline constexpr double k_severity_tail_mass = 0.05;
inline constexpr double k_severity_tail = 0.25;
/// Probability that the complaint was misreported.
inline constexpr double k_complaint_mistaken = 0.03;
/// Shares of a mistaken number reading: about zero, over range, and the rest uniform in the log of the instrument's range.
inline constexpr double k_mistaken_floor = 0.45;
inline constexpr double k_mistaken_over = 0.05;
inline constexpr double k_mistaken_inside = 0.5;

}  // namespace lostspark::model
