// Cautions and complaints: texts and likelihoods that families share.
#pragma once

#include <string>
#include <vector>

#include "lostspark_plugin.hpp"

namespace lostspark::blocks {

/// The cautions with these ids ("S01" ...), in the order of their numbers. Texts: general trade knowledge, common
/// practice; docs/safety.md has all of them. Throws plugin::Refusal for an unknown id.
void add_cautions(plugin::Tables& t, const std::vector<std::string>& ids);

/// The complaints that every family can hear, from "no_spark" to "kick_back"; spark_ladder: margins of those that are
/// computed, because they speak of the spark or of an engine that runs. Likelihoods: engineering judgement,
/// docs/complaints.md.
void add_common_complaints(plugin::Tables& t, const char* spark_ladder);

}  // namespace lostspark::blocks
