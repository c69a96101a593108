// How to take a test and how to do a repair: where, what first, how, and what to beware of.
#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

#include "inference/compiled.hpp"
#include "job/healthy.hpp"
#include "job/job_impl.hpp"
#include "job/reading_parser.hpp"
#include "job/words.hpp"

namespace lostspark::job {
namespace {

constexpr double k_kick_back_above = 0.10;  // safety note S22 and the job's brief: key, timing or trigger suspected
constexpr std::string_view k_kick_back_caution = "S22";
constexpr double k_dear = 60;               // price in units of money: about an hour of labour
constexpr double k_sure_of_dear = 0.75;     // that a dear part ends the job, before nothing is said

bool has(const std::vector<Index>& list, Index wanted) {
  return std::find(list.begin(), list.end(), wanted) != list.end();
}

std::string minutes(double m) { return exact(std::round(m * 10) / 10) + " min"; }

std::string node_words(const model::Node& node) {
  std::string line = node.place.empty() ? spaced_words(node.id) : node.place;
  if (!node.side.empty() && node.place.find(spaced_words(node.side)) == std::string::npos)
    line += ", " + spaced_words(node.side);
  return line;
}

std::vector<std::string> place_of(const model::Vehicle& v, const model::Test& test) {
  std::vector<std::string> out;
  const bool at_node = test.node_a > model::k_earth;
  if (!test.place.empty())
    out.push_back(test.place);
  else if (at_node)
    out.push_back(node_words(v.nodes[test.node_a]));
  if (at_node && !v.nodes[test.node_a].wire.empty()) out.push_back("wire " + colours(v.nodes[test.node_a].wire));
  if (test.node_b > model::k_earth && test.node_b != test.node_a)
    out.push_back("against " + node_words(v.nodes[test.node_b]));
  else if (test.node_b == model::k_earth)
    out.emplace_back("against bare engine metal");
  return out;
}

std::vector<std::string> covers_in_words(const model::Vehicle& v, const std::vector<Index>& covers) {
  std::vector<std::string> out;
  for (const Index c : covers) out.push_back(v.covers[c].title + " (" + minutes(v.covers[c].remove_min) + ")");
  return out;
}

/// Back-probed tests at contacts that this test would move, not read since they were moved last.
std::vector<std::string> probe_first(const Job::Impl& job, Index which) {
  const auto& v = *job.vehicle;
  const auto& test = v.tests[which];
  auto moved = contacts_unplugged(v, test);
  for (const Index s : setups_of(v, test))
    if (v.setups[s].moves_contacts && !has(job.state.setups_standing, s))
      moved.insert(moved.end(), v.setups[s].touches.begin(), v.setups[s].touches.end());
  std::vector<std::string> out;
  if (moved.empty()) return out;
  for (std::size_t t = 0; t < v.tests.size() && out.size() < 3; ++t) {
    const auto& other = v.tests[t];
    if (other.reads != model::Reads::node_volts && other.reads != model::Reads::drop_volts) continue;
    if (other.provocation != model::Provocation::none || !job.can_do(other)) continue;
    const auto& setups = setups_of(v, other);
    if (std::any_of(setups.begin(), setups.end(), [&](Index s) { return v.setups[s].moves_contacts; })) continue;
    const auto at_contact = [&](Index n) {
      return n >= 0 && v.nodes[n].component >= 0 && has(moved, v.nodes[n].component);
    };
    if (!at_contact(other.node_a) && !at_contact(other.node_b)) continue;
    if (std::any_of(job.state.readings.begin(), job.state.readings.end(),
                    [&](const Taken& r) { return r.reading.test == static_cast<Index>(t); }))
      continue;
    out.push_back(other.id);
  }
  return out;
}

void hook_up_lines(const Job::Impl& job, const model::Test& test, StepView& view) {
  const auto& v = *job.vehicle;
  const auto& wanted = setups_of(v, test);
  for (const Index s : job.state.setups_standing)
    if (!has(wanted, s)) view.put_back.push_back("take down: " + v.setups[s].title);
  for (const Index s : wanted) {
    const auto& setup = v.setups[s];
    const std::string what = setup.instruction.empty() ? setup.title : setup.instruction;
    view.hook_up.push_back(has(job.state.setups_standing, s) ? setup.title + ": stands already" : what);
  }
  if (!test.hook_up.empty()) view.hook_up.push_back(test.hook_up);
  if (view.repeats) view.hook_up.push_back("once more: take the leads off, prove the meter, seat them anew");
}

/// What to do otherwise than the last time, when a repair is done over; empty the first time.
std::string done_before(const Job& job, Index which) {
  const auto& v = job.vehicle();
  const auto& r = v.repairs[which];
  const auto& done = job.state().repairs;
  if (std::none_of(done.begin(), done.end(), [&](const RepairDone& d) { return d.repair == which; })) return {};
  const std::string start = "done before without success: ";
  if (model::fits_part(r)) return start + "compare part numbers, prove the new part, fit another";
  if (r.component >= 0 && model::is_contact(v.components[r.component].kind))
    return start + "cut the terminals off and crimp new ones";
  return r.kind == model::RepairKind::clean ? start + "what is worn or eaten, cleaning does not mend" : start + "make it anew from end to end";
}

void state_lines(const Job::Impl& job, const model::Test& test, StepView& view) {
  const auto& v = *job.vehicle;
  const auto say = [&](const model::Condition& c) {
    view.state.push_back(c.instruction.empty() ? c.title : c.title + ": " + c.instruction);
  };
  view.ready = "ready?";
  if (test.scene >= 0 && v.scenes[test.scene].condition >= 0) {
    const auto& c = v.conditions[v.scenes[test.scene].condition];
    say(c);
    if (c.needs_crank)
      view.ready = c.needs_helper ? "ready? then have it cranked" : "ready? then crank";
    else if (c.running)
      view.ready = "ready? then start the engine";
  }
  if (test.condition_extra >= 0) say(v.conditions[test.condition_extra]);
}

/// "142 V .. 351 V, from: family default", and the file's own band with its origin.
std::vector<std::string> healthy_lines(const Job::Impl& job, Index which) {
  const auto& v = *job.vehicle;
  const auto& test = v.tests[which];
  std::vector<std::string> out;
  if (test.is_word()) return out;
  const auto& tables = *job.tables();
  const auto band = inference::healthy_band(tables, which);
  Index most = model::k_none;
  double largest = 0;
  const double* row = tables.healthy_row(tables.tests[which].primary);
  for (std::size_t k = 0; k < tables.columns.size(); ++k)
    if (std::abs(row[2 + k]) > largest) {
      largest = std::abs(row[2 + k]);
      most = tables.columns[k].parameter;
    }
  const std::string from = ", from: " + band_origin(v, test, most);
  if (band.below_floor > 0.5 || band.over_range > 0.5)
    out.push_back((band.below_floor > 0.5 ? "below" : "over") + from);
  else
    out.push_back(with_unit(band.low, test.unit) + " .. " + with_unit(band.high, test.unit) + from);
  if (test.healthy_low > 0 || test.healthy_high > 0) {
    std::string line = origin_words(test.healthy_origin) + " says ";
    if (test.healthy_low > 0 && test.healthy_high > 0)
      line += with_unit(test.healthy_low, test.unit) + " .. " + with_unit(test.healthy_high, test.unit);
    else if (test.healthy_low > 0)
      line += "at least " + with_unit(test.healthy_low, test.unit);
    else
      line += "at most " + with_unit(test.healthy_high, test.unit);
    if (!test.healthy_note.empty()) line += " (" + test.healthy_note + ")";
    const bool outside = (test.healthy_low > 0 && band.median < test.healthy_low) ||
                         (test.healthy_high > 0 && band.median > test.healthy_high);
    if (test.learned_from > 0 && outside && band.over_range < 0.5) line += "; the shop's readings contradict it";
    out.push_back(std::move(line));
  }
  return out;
}

bool cranks(const model::Vehicle& v, const model::Test& test) {
  return test.scene >= 0 && v.scenes[test.scene].condition >= 0 &&
         v.conditions[v.scenes[test.scene].condition].needs_crank;
}

/// The warning before a dear part is ordered on weak evidence: the cheapest way that begins with a measurement.
std::string weak_evidence(const Job& job, const model::Repair& repair, double cures) {
  if (repair.price < k_dear || cures >= k_sure_of_dear) return {};
  std::string text = "a dear part on weak evidence: " + exact(std::round((1 - cures) * 100)) + " %" + " that it does not end the job";
  for (const auto& advice : job.next().steps)
    if (advice.kind == planning::StepKind::test) {
      text += "; before ordering it: " + job.vehicle().tests[advice.test].title;
      break;
    }
  return text + "; electrical parts are seldom taken back";
}

}  // namespace

std::string colours(const std::string& code) {
  constexpr std::array<std::pair<std::string_view, std::string_view>, 15> table{{{"BK", "black"},
                                                                                 {"BN", "brown"},
                                                                                 {"RD", "red"},
                                                                                 {"OG", "orange"},
                                                                                 {"YE", "yellow"},
                                                                                 {"GN", "green"},
                                                                                 {"BU", "blue"},
                                                                                 {"VT", "violet"},
                                                                                 {"GY", "grey"},
                                                                                 {"WH", "white"},
                                                                                 {"PK", "pink"},
                                                                                 {"GD", "gold"},
                                                                                 {"SR", "silver"},
                                                                                 {"TQ", "turquoise"},
                                                                                 {"LG", "light green"}}};
  std::vector<std::string> out;
  for (std::size_t i = 0; i + 2 <= code.size(); i += 2) {
    const auto at =
        std::find_if(table.begin(), table.end(), [&](const auto& row) { return row.first == code.substr(i, 2); });
    if (at == table.end()) return code;
    out.emplace_back(at->second);
  }
  std::string text;
  for (const auto& c : out) text += (text.empty() ? "" : "/") + c;
  return out.size() * 2 == code.size() ? text : code;
}

bool Job::Impl::kick_back() const {
  for (const auto& [option, value] : vehicle->options)
    if (option == "start" && value == "starter") return false;
  double sum = 0;
  const auto& p = belief().component_probability();
  for (std::size_t c = 0; c < p.size(); ++c)
    if (vehicle->components[c].group == "TIM" || vehicle->components[c].group == "TRG") sum += p[c];
  return sum > k_kick_back_above;
}

std::vector<CautionView> caution_views(const Job::Impl& job, const std::vector<Index>& cautions, bool kick_back) {
  const auto& v = *job.vehicle;
  std::vector<Index> which = cautions;
  if (kick_back)
    for (std::size_t c = 0; c < v.cautions.size(); ++c)
      if (v.cautions[c].id == k_kick_back_caution && !has(which, static_cast<Index>(c)))
        which.push_back(static_cast<Index>(c));
  const auto rank = [&](Index c) {
    constexpr std::array<std::string_view, 3> order{"DANGER", "WARNING", "CAUTION"};
    const auto at = std::find(order.begin(), order.end(), v.cautions[c].signal_word);
    return at - order.begin();
  };
  std::stable_sort(which.begin(), which.end(), [&](Index a, Index b) { return rank(a) < rank(b); });
  std::vector<CautionView> out;
  for (const Index c : which)
    out.push_back({v.cautions[c].id, v.cautions[c].signal_word, v.cautions[c].text, v.cautions[c].avoid});
  return out;
}

std::vector<CautionView> Job::cautions_before_first() const {
  std::vector<Index> which;
  for (std::size_t c = 0; c < vehicle().cautions.size(); ++c)
    if (vehicle().cautions[c].before_first) which.push_back(static_cast<Index>(c));
  return caution_views(*impl_, which, false);
}

StepView Job::step(Index which) const {
  const auto& v = vehicle();
  const auto& t = v.tests[which];
  StepView view;
  view.test = which;
  view.id = t.id;
  view.title = t.title;
  view.unit = t.unit;
  const auto* instrument = impl_->instrument_of(t);
  view.instrument =
      instrument != nullptr && !instrument->title.empty() ? instrument->title : spaced_words(t.instrument);
  view.where = place_of(v, t);
  const auto closed = planning::covers_to_open(v, t.covers, state().covers_off);
  if (t.blind_min >= 0 && !closed.empty())
    view.where.push_back("can be probed through the gap (" + minutes(t.blind_min) + "), nothing to take off");
  else
    view.take_off = covers_in_words(v, closed);
  view.repeats = impl_->still_hooked_up(which);
  hook_up_lines(*impl_, t, view);
  state_lines(*impl_, t, view);
  view.ask = reading_hint(t);
  view.access_min = planning::access_minutes(v, t, impl_->bench());
  view.cautions = caution_views(*impl_, t.cautions, cranks(v, t) && impl_->kick_back());
  view.before_unplugging = probe_first(*impl_, which);
  view.results = result_classes(*impl_, which);
  view.healthy = healthy_lines(*impl_, which);
  return view;
}

RepairView Job::repair_step(Index which) const {
  const auto& v = vehicle();
  const auto& r = v.repairs[which];
  RepairView view;
  view.repair = which;
  view.id = r.id;
  view.title = r.title;
  view.kind = r.kind == model::RepairKind::clean ? "clean" : r.kind == model::RepairKind::adjust ? "adjust" : "replace";
  if (r.component >= 0 && !v.components[r.component].place.empty())
    view.where.push_back(v.components[r.component].place);
  view.take_off = covers_in_words(v, planning::covers_to_open(v, r.covers, state().covers_off));
  for (const auto& s : suspects(0.01))
    if (s.mode >= 0 && v.modes[s.mode].repair == which) view.why.push_back(s.title);
  view.labour_min = r.labour_min;
  view.price = r.price;
  view.success = posterior().success(which);
  view.cures = posterior().cures(which);
  view.cautions = caution_views(*impl_, {}, false);
  if (state().intake.limit) {
    double spent = (state().minutes + r.labour_min) / 60 * workshop().labour_rate_per_hour + r.price;
    for (const auto& done : state().repairs)
      if (done.part == PartState::fitted) spent += done.price;
    view.over_limit = spent > *state().intake.limit;
  }
  view.done_before = done_before(*this, which);
  view.weak_evidence = weak_evidence(*this, r, view.cures);
  return view;
}

const std::string& deference_text() {
  static const std::string text =
      "These steps are general guidance. The vehicle manufacturer's service information, the instrument's "
      "instructions, "
      "local laws and workplace rules take precedence; work on ignition, fuel and battery systems belongs to qualified "
      "persons with suitable protective equipment. If they disagree with this text, follow them and stop.";
  return text;
}

}  // namespace lostspark::job
