// The log in words, one line an entry.
#include <array>
#include <utility>

#include "job/bodies.hpp"
#include "job/log.hpp"
#include "job/reading_parser.hpp"
#include "job/words.hpp"

namespace lostspark::job {
namespace {

using model::Vehicle;

template <class Rows>
std::string title_of(const Rows& rows, const std::optional<Index>& at, const std::string& id) {
  return at ? rows[*at].title.empty() ? id : rows[*at].title : id;
}

std::string titles(const Vehicle& v, const Json& ids, std::string (*title)(const Vehicle&, const std::string&)) {
  std::vector<std::string> out;
  for (const auto& id : ids) out.push_back(title(v, id.get<std::string>()));
  return joined(out);
}

std::string component_title(const Vehicle& v, const std::string& id) {
  return title_of(v.components, v.find_component(id), id);
}
std::string cover_title(const Vehicle& v, const std::string& id) { return title_of(v.covers, v.find_cover(id), id); }
std::string setup_title(const Vehicle& v, const std::string& id) { return title_of(v.setups, v.find_setup(id), id); }
std::string repair_title(const Vehicle& v, const std::string& id) { return title_of(v.repairs, v.find_repair(id), id); }

std::string reading_words(const Vehicle& v, const Json& j, const InForce& force, std::int64_t sequence) {
  Json shown = j;
  const auto amendment = force.amended.find(sequence);
  if (amendment != force.amended.end()) shown["value"] = amendment->second.at("value");
  const auto reading = reading_from(v, shown);
  const auto& test = v.tests[reading.test];
  std::string out = test.title + ": " + reading_text(test, reading.value);
  if (amendment != force.amended.end()) out += " (was " + reading_text(test, value_from(j.at("value"))) + ")";
  if (reading.provocation != model::Provocation::none) out += ", " + to_string(reading.provocation);
  return out;
}

std::string change_words(const Json& j, const Vehicle& v, const char* first, const char* first_word, const char* second,
                         const char* second_word, std::string (*title)(const Vehicle&, const std::string&)) {
  std::vector<std::string> out;
  if (j.contains(first) && !j.at(first).empty()) out.push_back(titles(v, j.at(first), title) + " " + first_word);
  if (j.contains(second) && !j.at(second).empty()) out.push_back(titles(v, j.at(second), title) + " " + second_word);
  return joined(out, ", ");
}

std::string words_of(const Vehicle& v, const history::LogEntry& entry, const InForce& force) {
  const Json j = body_of(entry);
  const std::string& kind = entry.kind;
  if (kind == "opened") return "job opened";
  if (kind == "intake") return "intake: " + joined(intake_lines(v, intake_from(j)), "; ");
  if (kind == "reading") return reading_words(v, j, force, entry.sequence);
  if (kind == "checked") {
    std::string out = std::string("check ") + (j.at("passed").get<bool>() ? "passed" : "failed");
    if (j.contains("test")) out += "; " + reading_words(v, j, force, entry.sequence);
    return out;
  }
  if (kind == "skipped") {
    const auto id = j.at("test").get<std::string>();
    return title_of(v.tests, v.find_test(id), id) + " skipped: " + j.at("reason").get<std::string>();
  }
  if (kind == "amended")
    return "entry " + std::to_string(j.at("target").get<std::int64_t>()) + " amended to " +
           j.value("typed", std::string{});
  if (kind == "struck") {
    const auto reason = j.value("reason", std::string{});
    return "entry " + std::to_string(j.at("target").get<std::int64_t>()) + " struck" +
           (reason.empty() ? "" : ": " + reason);
  }
  if (kind == "undone") {
    std::vector<std::string> targets;
    for (const auto& t : j.at("targets")) targets.push_back(std::to_string(t.get<std::int64_t>()));
    return (targets.size() == 1 ? "entry " : "entries ") + joined(targets) + " undone";
  }
  if (kind == "covers") return change_words(j, v, "off", "taken off", "on", "fitted", cover_title);
  if (kind == "setup") return change_words(j, v, "make", "set up", "undo", "taken down", setup_title);
  if (kind == "provocation") return "held " + j.at("held").get<std::string>();
  if (kind == "touched") return "contacts moved: " + titles(v, j.at("components"), component_title);
  if (kind == "repaired") {
    const auto part = j.value("part", std::string("no_part"));
    return "done: " + repair_title(v, j.at("repair").get<std::string>()) + (part == "tried" ? " (part on trial)" : "");
  }
  if (kind == "refitted") return "old part back in: " + repair_title(v, j.at("repair").get<std::string>());
  if (kind == "stop_checked") return component_title(v, j.at("component").get<std::string>()) + ": recorded as working";
  if (kind == "state") return "state: " + j.at("state").get<std::string>();
  if (kind == "closed") return "closed: " + j.at("outcome").get<std::string>();
  if (kind == "took")
    return "entry " + std::to_string(j.at("target").get<std::int64_t>()) + " took " +
           exact(j.at("taken").get<double>()) + " min";
  if (kind == "note") return "note: " + j.at("text").get<std::string>();
  return kind;
}

}  // namespace

std::vector<HistoryLine> history_lines(const Vehicle& vehicle, const std::vector<history::LogEntry>& log) {
  const InForce force = in_force(log);
  std::vector<HistoryLine> out;
  for (const auto& entry : log) {
    HistoryLine line{entry.sequence, entry.at, entry.kind, words_of(vehicle, entry, force),
                     HistoryLine::Status::in_force};
    if (force.undone.contains(entry.sequence))
      line.status = HistoryLine::Status::undone;
    else if (force.struck.contains(entry.sequence))
      line.status = HistoryLine::Status::struck;
    else if (force.amended.contains(entry.sequence))
      line.status = HistoryLine::Status::amended;
    out.push_back(std::move(line));
  }
  return out;
}

}  // namespace lostspark::job
