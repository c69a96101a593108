#include <fstream>
#include <set>
#include <sstream>

#include "base/error.hpp"
#include "sources/demo_workshop.hpp"
#include "sources/load.hpp"
#include "sources/text.hpp"
#include "sources/toml_section.hpp"

namespace lostspark::sources {
namespace {

constexpr double k_any = 1e15;
const std::vector<std::string> k_units{"volt", "ohm", "kilovolt", "ampere", "rpm", "degree", "word"};

model::Instrument instrument(Section& s) {
  model::Instrument i;
  i.id = s.identifier("id").text;
  i.title = s.text("title", spoken(i.id));
  i.kind = s.identifier("kind").text;
  i.unit = s.choice("unit", "", k_units);
  i.accuracy_log_sd = s.number("accuracy", 0.03, 0, 2);
  i.step = s.number("step", 0, 0, k_any);
  i.floor = s.number("floor", 0, 0, k_any);
  i.range = s.number("range", 1e9, 0, k_any);
  i.input_ohm = s.number("input_ohm", 1e12, 1, k_any);
  i.rise_time_second = s.number("rise_time_second", 1e-6, 0, 1e3);
  if (s.has("range") && i.range <= i.floor)
    s.mistake("range", "is not above the floor: expected more than " + number_text(i.floor));
  // The average of an ignition pulse is nonsense: whoever owns such a meter must not be told to trust it.
  if (i.kind == "peak_voltmeter" && i.rise_time_second > 1e-3)
    s.mistake("rise_time_second", "is too slow for a peak voltmeter: an ordinary multimeter is of kind \"multimeter\"");
  s.finish();
  return i;
}

model::Workshop read_workshop(const std::string& text, Mistakes& mistakes) {
  const auto file = parse_toml(text, mistakes);
  check_sections(file, workshop_sections(), mistakes);
  model::Workshop w;
  if (const auto* table = file.get_as<toml::table>("workshop")) {
    Section s(*table, "workshop", workshop_section("workshop"), mistakes);
    w.title = s.text("title", w.title);
    w.helper = s.flag("helper", w.helper);
    w.labour_rate_per_hour = s.number("labour_rate_per_hour", w.labour_rate_per_hour, 0.01, k_any);
    w.check_min = s.number("check_min", w.check_min, 0, 1e4);
    w.refer_min = s.number("refer_min", w.refer_min, 0, 1e5);
    w.comeback_min = s.number("comeback_min", w.comeback_min, 0, 1e5);
    s.finish();
  }
  std::set<std::string> ids;
  std::size_t number = 0;
  if (const auto* array = file.get_as<toml::array>("instrument"))
    for (const auto& node : *array) {
      ++number;
      const auto* table = node.as_table();
      if (table == nullptr) continue;  // check_sections has said so
      Section s(*table, "instrument[" + std::to_string(number) + "]", workshop_section("instrument"), mistakes);
      auto i = instrument(s);
      if (!i.id.empty() && !ids.insert(i.id).second) s.mistake("id", "'" + i.id + "' is there already");
      w.instruments.push_back(std::move(i));
    }
  mistakes.throw_if_any();
  return w;
}

}  // namespace

model::Workshop load_workshop(const std::filesystem::path& file) {
  std::ifstream in(file, std::ios::binary);
  if (!in) throw InputError(file.string() + ": cannot be read");
  std::ostringstream text;
  text << in.rdbuf();
  Mistakes mistakes(file.string());
  return read_workshop(text.str(), mistakes);
}

model::Workshop default_workshop(const Folders& folders) {
  std::error_code code;
  for (const auto& folder : folders.networks)
    if (const auto file = folder / "workshop.toml"; std::filesystem::is_regular_file(file, code))
      return load_workshop(file);
  Mistakes mistakes("built-in workshop");
  return read_workshop(demo_workshop_text(), mistakes);
}

}  // namespace lostspark::sources
