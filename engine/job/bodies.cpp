#include "job/bodies.hpp"

#include <cmath>
#include <limits>

#include "base/error.hpp"
#include "job/words.hpp"

namespace lostspark::job {
namespace {

using model::ValueKind;

constexpr const char* k_value_kinds[] = {"number", "interval", "below_floor", "over_range", "word"};

std::string damaged(const history::LogEntry& entry, const std::string& cause) {
  return "log entry " + std::to_string(entry.sequence) + " (" + entry.kind + ") cannot be read: " + cause;
}

/// Infinity has no JSON number: null stands for it.
Json end_of(double high) { return std::isinf(high) ? Json(nullptr) : Json(high); }

Json workshop_instrument(const model::Instrument& i) {
  return {{"id", i.id},
          {"title", i.title},
          {"kind", i.kind},
          {"unit", i.unit},
          {"accuracy_log_sd", i.accuracy_log_sd},
          {"step", i.step},
          {"floor", i.floor},
          {"range", end_of(i.range)},
          {"input_ohm", end_of(i.input_ohm)},
          {"rise_time_second", i.rise_time_second}};
}

double number_or_infinity(const Json& j) {
  return j.is_null() ? std::numeric_limits<double>::infinity() : j.get<double>();
}

}  // namespace

Json to_json(const model::Value& value) {
  Json j{{"kind", k_value_kinds[static_cast<std::size_t>(value.kind)]}};
  if (value.kind == ValueKind::number) j["number"] = value.number;
  if (value.kind == ValueKind::interval) {
    j["low"] = value.low;
    j["high"] = end_of(value.high);
  }
  if (value.kind == ValueKind::word) j["word"] = value.word;
  if (value.about) j["about"] = true;
  if (value.kicks > 1) j["kicks"] = value.kicks;
  if (!value.each.empty()) j["each"] = value.each;
  return j;
}

model::Value value_from(const Json& j) {
  model::Value value;
  const auto kind = j.at("kind").get<std::string>();
  bool known = false;
  for (std::size_t i = 0; i < std::size(k_value_kinds); ++i)
    if (kind == k_value_kinds[i]) {
      value.kind = static_cast<ValueKind>(i);
      known = true;
    }
  if (!known) throw InputError("unknown kind of value '" + kind + "'");
  if (value.kind == ValueKind::number) value.number = j.at("number").get<double>();
  if (value.kind == ValueKind::interval) {
    value.low = j.at("low").get<double>();
    value.high = number_or_infinity(j.at("high"));
  }
  if (value.kind == ValueKind::word) value.word = j.at("word").get<std::size_t>();
  value.about = j.value("about", false);
  value.kicks = j.value("kicks", 1);
  if (j.contains("each")) value.each = j.at("each").get<std::vector<double>>();
  return value;
}

Json to_json(const Intake& i) {
  Json j = Json::object();
  const auto put = [&j](const char* key, const auto& value) {
    if (!value.empty()) j[key] = value;
  };
  put("complaints", i.complaints);
  put("extent", i.extent);
  put("shows", i.shows);
  put("recent_work", i.recent_work);
  put("replaced", i.replaced);
  put("covers_off", i.covers_off);
  put("add_ons", i.add_ons);
  put("spark", i.spark);
  put("words", i.words);
  if (i.limit) j["limit"] = *i.limit;
  return j;
}

Intake intake_from(const Json& j) {
  using Strings = std::vector<std::string>;
  Intake i;
  i.complaints = j.value("complaints", Strings{});
  i.extent = j.value("extent", std::string{});
  i.shows = j.value("shows", Strings{});
  i.recent_work = j.value("recent_work", Strings{});
  i.replaced = j.value("replaced", Strings{});
  i.covers_off = j.value("covers_off", Strings{});
  i.add_ons = j.value("add_ons", Strings{});
  i.spark = j.value("spark", std::string{});
  i.words = j.value("words", std::string{});
  if (j.contains("limit")) i.limit = j.at("limit").get<double>();
  return i;
}

Json to_json(const model::Vehicle& vehicle, const model::Reading& reading, const std::string& typed) {
  return {
      {"test", vehicle.tests[reading.test].id},        {"value", to_json(reading.value)}, {"typed", typed},
      {"provocation", to_string(reading.provocation)}, {"moment", reading.moment},        {"hookup", reading.hookup}};
}

model::Reading reading_from(const model::Vehicle& vehicle, const Json& j) {
  model::Reading reading;
  const auto id = j.at("test").get<std::string>();
  const auto test = vehicle.find_test(id);
  if (!test) throw InputError("test '" + id + "' is not on this vehicle");
  reading.test = *test;
  reading.value = value_from(j.at("value"));
  if (reading.value.kind == ValueKind::word && reading.value.word >= vehicle.tests[*test].words.size())
    throw InputError("test '" + id + "' has no word " + std::to_string(reading.value.word));
  reading.provocation = provocation(j.value("provocation", std::string("none")));
  reading.moment = j.value("moment", -1);
  reading.hookup = j.value("hookup", -1);
  return reading;
}

Json body_of(const history::LogEntry& entry) {
  try {
    Json j = Json::parse(entry.body);
    if (!j.is_object()) throw StoreError(damaged(entry, "it is not a JSON object"));
    return j;
  } catch (const Json::exception& e) {
    throw StoreError(damaged(entry, e.what()));
  }
}

InForce in_force(const std::vector<history::LogEntry>& log) {
  InForce out;
  std::vector<std::pair<std::int64_t, Json>> amendments;
  for (const auto& entry : log) {
    if (entry.kind != "undone") continue;
    try {
      const Json body = body_of(entry);
      for (const auto& t : body.at("targets")) out.undone.insert(t.get<std::int64_t>());
    } catch (const Json::exception& e) {
      throw StoreError(damaged(entry, e.what()));
    }
  }
  for (const auto& entry : log) {
    if (out.undone.contains(entry.sequence)) continue;
    try {
      if (entry.kind == "struck") out.struck.insert(body_of(entry).at("target").get<std::int64_t>());
      if (entry.kind == "amended") {
        Json body = body_of(entry);
        const auto target = body.at("target").get<std::int64_t>();
        out.amended[target] = std::move(body);
      }
    } catch (const Json::exception& e) {
      throw StoreError(damaged(entry, e.what()));
    }
  }
  for (const auto& entry : log) {
    if (entry.kind != "took" || !out.counts(entry.sequence)) continue;
    try {
      const Json body = body_of(entry);
      out.taken[body.at("target").get<std::int64_t>()] = body.at("taken").get<double>();
    } catch (const Json::exception& e) {
      throw StoreError(damaged(entry, e.what()));
    }
  }
  return out;
}

std::string workshop_json(const model::Workshop& w) {
  Json j{{"title", w.title},
         {"helper", w.helper},
         {"labour_rate_per_hour", w.labour_rate_per_hour},
         {"check_min", w.check_min},
         {"refer_min", w.refer_min},
         {"comeback_min", w.comeback_min},
         {"instruments", Json::array()}};
  for (const auto& i : w.instruments) j["instruments"].push_back(workshop_instrument(i));
  return j.dump();
}

model::Workshop workshop_from_json(const std::string& text) {
  try {
    const Json j = Json::parse(text);
    model::Workshop w;
    w.title = j.at("title").get<std::string>();
    w.helper = j.at("helper").get<bool>();
    w.labour_rate_per_hour = j.at("labour_rate_per_hour").get<double>();
    w.check_min = j.at("check_min").get<double>();
    w.refer_min = j.at("refer_min").get<double>();
    w.comeback_min = j.at("comeback_min").get<double>();
    for (const auto& row : j.at("instruments")) {
      model::Instrument i;
      i.id = row.at("id").get<std::string>();
      i.title = row.at("title").get<std::string>();
      i.kind = row.at("kind").get<std::string>();
      i.unit = row.at("unit").get<std::string>();
      i.accuracy_log_sd = row.at("accuracy_log_sd").get<double>();
      i.step = row.at("step").get<double>();
      i.floor = row.at("floor").get<double>();
      i.range = number_or_infinity(row.at("range"));
      i.input_ohm = number_or_infinity(row.at("input_ohm"));
      i.rise_time_second = row.at("rise_time_second").get<double>();
      w.instruments.push_back(std::move(i));
    }
    return w;
  } catch (const Json::exception& e) {
    throw StoreError(std::string("the workshop stored with the job cannot be read: ") + e.what());
  }
}

std::string intake_json(const Intake& intake) { return to_json(intake).dump(); }
std::string value_json(const model::Value& value) { return to_json(value).dump(); }

}  // namespace lostspark::job
