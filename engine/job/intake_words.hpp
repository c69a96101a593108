// The closed lists of the intake and what they stand for; shared by the questions and the evidence.
#pragma once

#include <array>
#include <optional>
#include <string_view>

#include "model/vehicle.hpp"

namespace lostspark::job {

struct IntakeWord {
  std::string_view id, text;
};

inline constexpr std::array<IntakeWord, 2> k_extent_single{
    {{"always", "all the time"}, {"comes_and_goes", "comes and goes"}}};
inline constexpr std::array<IntakeWord, 3> k_extent_several{
    {{"all_cylinders", "all cylinders"}, {"one_cylinder", "one cylinder"}, {"two_cylinders", "a pair of cylinders"}}};
inline constexpr std::array<IntakeWord, 6> k_shows{{{"hot", "when hot"},
                                                    {"cold", "when cold"},
                                                    {"wet", "in the wet or after washing"},
                                                    {"shaken", "on bumps"},
                                                    {"steering", "when the bars are turned"},
                                                    {"loaded", "under load"}}};
/// Where work was done lately; the groups of components it reached, blank-separated.
struct WorkArea {
  std::string_view id, text, groups;
};
inline constexpr std::array<WorkArea, 5> k_work_areas{
    {{"source_side", "flywheel, stator or exciter", "SRC TIM"},
     {"trigger_side", "pulse coil, timing", "TRG TIM"},
     {"module_wiring", "control module and its wiring", "CTL"},
     {"coil_and_plug", "ignition coil, lead, cap, plug", "PRI SEC PLG"},
     {"switches", "switches at the bars, key, stand", "INH"}}};
inline constexpr std::array<IntakeWord, 3> k_add_ons{
    {{"lights", "lights or other consumers"}, {"alarm", "alarm or immobiliser"}, {"other", "other wiring added"}}};
inline constexpr std::array<IntakeWord, 4> k_spark{
    {{"none", "no spark"}, {"weak", "weak or irregular"}, {"good", "good and steady"}, {"not_checked", "not checked"}}};

/// The provocation a complaint word speaks of ("dies_hot" -> hot), none where it names none.
[[nodiscard]] model::Provocation provocation_of_complaint(std::string_view complaint);
/// The provocation of an answer to "when does it show"; none for cold.
[[nodiscard]] model::Provocation provocation_of_answer(std::string_view shows);
/// The functional check: the spark word, at the gap tester where there is one, with the least set-up and without
/// provocation; empty: the vehicle has none.
[[nodiscard]] std::optional<model::Index> spark_test(const model::Vehicle&);

}  // namespace lostspark::job
