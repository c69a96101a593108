#include "job/memory.hpp"

#include <algorithm>

#include "base/error.hpp"
#include "job/csv.hpp"
#include "job/reading_parser.hpp"
#include "job/shares.hpp"
#include "job/words.hpp"

namespace lostspark::job {
namespace {

const std::vector<std::string> k_columns{"test",   "value", "unit",       "individual", "condition",
                                         "hookup", "speed", "instrument", "read_at",    "note"};

std::vector<std::string> number_tests(const model::Vehicle& v) {
  std::vector<std::string> out;
  for (const auto& t : v.tests)
    if (!t.is_word()) out.push_back(t.id);
  return out;
}

/// Throws InputError when it is no number.
history::Baseline parsed(const model::Vehicle& v, const model::Workshop& workshop, const std::string& test_id,
                         const std::string& typed, const BaselineNote& note) {
  const auto row = v.find_test(test_id);
  if (!row) throw InputError(unknown("test", test_id, number_tests(v)));
  const auto& test = v.tests[*row];
  if (test.is_word()) throw InputError("'" + test.id + "' is read as a word; healthy values are numbers");
  const auto* instrument = workshop.find(test.instrument, test.unit);
  const auto reading = parse_reading(test, instrument, typed);
  if (reading.value.kind != model::ValueKind::number || !(reading.value.number > 0))
    throw InputError("'" + typed + "' is no number that a healthy band can be learned from (" +
                     reading_text(test, reading.value) + "); expected a value in " + test.unit);
  history::Baseline b;
  b.vehicle = v.id;
  b.family = v.family;
  b.test = test.id;
  b.unit = test.unit;
  b.value = reading.value.number;
  b.individual = note.individual;
  b.condition = note.condition;
  b.hookup = note.hookup;
  b.speed = note.speed;
  b.instrument = note.instrument.empty() && instrument != nullptr ? instrument->id : note.instrument;
  b.read_at = note.read_at;
  b.note = note.note;
  return b;
}

std::string band_words(const HealthyView& band) {
  return with_unit(band.low, band.unit) + " .. " + with_unit(band.high, band.unit);
}

}  // namespace

std::string stated_range(const HealthyView& band) {
  if (band.stated_low > 0 && band.stated_high > 0)
    return with_unit(band.stated_low, band.unit) + " .. " + with_unit(band.stated_high, band.unit);
  return band.stated_low > 0 ? "at least " + with_unit(band.stated_low, band.unit)
                             : "at most " + with_unit(band.stated_high, band.unit);
}

Learned learned_for(const std::shared_ptr<const model::Vehicle>& as_filed, const model::Workshop& workshop,
                    const history::Knowledge& knowledge) {
  Learned out = learn_healthy(as_filed, workshop, knowledge.baselines(as_filed->id));
  if (const auto set = set_in_use(knowledge)) {
    out.set = set->name;
    out.shares = shares_of(*set, *as_filed);
    out.minutes = minutes_of(set->minutes, *as_filed);
    if (out.shares.empty() && out.minutes.empty()) out.set.clear();  // the set says nothing about this vehicle
  }
  return out;
}

history::Baseline record_baseline(Desk& desk, const std::string& vehicle, const std::string& test,
                                  const std::string& typed, const BaselineNote& note) {
  BaselineNote dated = note;
  if (dated.read_at.empty()) dated.read_at = desk.now();
  const auto v = desk.vehicle(vehicle);
  auto b = parsed(*v, desk.workshop(), test, typed, dated);
  desk.store().knowledge().add_baselines({b});
  b.number = desk.store().knowledge().baselines(b.vehicle, true).back().number;
  return b;
}

std::vector<HealthyView> bands(const Desk& desk, const std::string& vehicle) {
  const auto filed = desk.vehicle(vehicle);
  const auto readings = desk.store().knowledge().baselines(filed->id);
  const auto learned = with_learned(filed, learn_healthy(filed, desk.workshop(), readings));
  return healthy_bands(filed, learned, desk.workshop(), readings);
}

std::string baseline_sheet(const Desk& desk, const std::string& vehicle) {
  const auto filed = desk.vehicle(vehicle);
  std::string out = "Healthy values of the " + filed->title + " (" + filed->id +
                    ")\n\nvehicle: ______________________   date: ____________   meter: ______________________\n\n";
  for (const auto& band : bands(desk, vehicle)) {
    out += band.title + (band.place.empty() ? "" : " (" + band.place + ")") + "\n";
    out += "  " + band.test_id + "\n";
    const bool known = band.origin != "family default";
    out += "  read: ____________ " + unit_symbol(band.unit);
    out += known ? "   known: " + band_words(band) + " (" + band.origin + ")" : "   known:";
    if (!band.stated_origin.empty()) out += "   stated: " + stated_range(band) + " (" + band.stated_origin + ")";
    out += "\n\n";
  }
  return out;
}

std::string baseline_csv(const Desk& desk, const std::string& vehicle) {
  const auto v = desk.vehicle(vehicle);
  std::string out = csv_line(k_columns);
  for (const auto& t : v->tests)
    if (!t.is_word()) out += csv_line({t.id, "", t.unit, "", "", "", "", "", "", ""});
  return out;
}

std::size_t import_baselines(Desk& desk, const std::string& vehicle, const std::string& csv, const std::string& file) {
  const auto v = desk.vehicle(vehicle);
  const auto rows = read_csv(csv, file);
  if (rows.empty())
    throw InputError(file + ": it is empty; `lostspark baseline sheet VEHICLE --csv` prints an empty one");
  std::vector<std::size_t> place;  // of each of our columns in the file
  std::vector<std::string> mistakes;
  for (const auto& column : rows[0])
    if (std::find(k_columns.begin(), k_columns.end(), trimmed(column)) == k_columns.end())
      mistakes.push_back(file + ", line 1: " + unknown("column", trimmed(column), k_columns));
  for (const auto& column : k_columns) {
    const auto at = std::find_if(rows[0].begin(), rows[0].end(), [&](const auto& c) { return trimmed(c) == column; });
    place.push_back(static_cast<std::size_t>(at - rows[0].begin()));
    if (at == rows[0].end() && (column == "test" || column == "value"))
      mistakes.push_back(file + ", line 1: there is no column '" + column + "'");
  }
  std::vector<history::Baseline> readings;
  const bool readable = mistakes.empty();
  const std::string now = desk.now();
  for (std::size_t i = 1; i < rows.size() && readable; ++i) {
    const auto cell = [&](std::size_t column) {
      return place[column] < rows[i].size() ? trimmed(rows[i][place[column]]) : std::string();
    };
    if (cell(1).empty()) continue;
    const std::string value = cell(1);
    const bool bare = value.back() >= '0' && value.back() <= '9';  // the unit of the column belongs to bare numbers
    const std::string typed = value + (bare && !cell(2).empty() ? " " + unit_symbol(cell(2)) : "");
    BaselineNote note{cell(3), cell(4), cell(5), cell(6), cell(7), cell(8), cell(9)};
    // A sheet is filled in at one vehicle: its rows belong together unless it says otherwise.
    if (note.individual.empty()) note.individual = file + " " + now;
    if (note.read_at.empty()) note.read_at = now;
    try {
      readings.push_back(parsed(*v, desk.workshop(), cell(0), typed, note));
      readings.back().source = "imported";
    } catch (const InputError& error) {
      mistakes.push_back(file + ", row " + std::to_string(i + 1) + ": " + error.what());
    }
  }
  if (!mistakes.empty()) {
    std::string all;
    for (const auto& m : mistakes) all += (all.empty() ? "" : "\n") + m;
    throw InputError(all);
  }
  desk.store().knowledge().add_baselines(readings);
  return readings.size();
}

}  // namespace lostspark::job
