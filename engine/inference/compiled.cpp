#include "inference/compiled.hpp"

#include <algorithm>
#include <array>
#include <atomic>
#include <cmath>
#include <exception>
#include <functional>
#include <future>
#include <thread>
#include <tuple>

#include "base/error.hpp"
#include "inference/interpolation.hpp"

namespace lostspark::inference {
namespace {

using model::k_severity_tail;
using model::k_severity_tail_mass;
constexpr double k_moves = 1e-9;  // a mode that changes a row by less leaves the channel as it is
constexpr std::size_t k_most_threads = 4, k_modes_worth_a_thread = 24;
constexpr double k_straight = 2e-3;  // log per sd: a column that bends by less is drawn straight
constexpr double k_effect = 1e-4;    // columns that move a log by less than this are dropped

double severity_weight(double low, double high) {
  const auto overlap = [&](double a, double b) { return std::max(0.0, std::min(high, b) - std::max(low, a)); };
  return overlap(0, 1) * (1 - k_severity_tail_mass) + (overlap(-k_severity_tail, 0) + overlap(1, 1 + k_severity_tail)) *
                                                          k_severity_tail_mass / (2 * k_severity_tail);
}

CellSet even_cells(int count) {
  CellSet set;
  const double width = (1 + 2 * k_severity_tail) / count;
  double total = 0;
  for (int k = 0; k < count; ++k) {
    const double low = -k_severity_tail + k * width;
    set.centre.push_back(low + width / 2);
    set.half_width.push_back(width / 2);
    set.weight.push_back(severity_weight(low, low + width));
    total += set.weight.back();
  }
  for (double& w : set.weight) w /= total;
  return set;
}

}  // namespace

Compiled::Compiled(std::shared_ptr<const model::Vehicle> v, const model::Workshop& w, const Options& o)
    : vehicle(std::move(v)), workshop(w), options(o), physics_(vehicle, w) {
  channels = physics_.channels;
  tests = physics_.tests;
  margin_channel = physics_.margin_channel;
  channel_count = channels.size();
  complaint_scene = physics_.complaint_scene;

  // Healthy centre, and the columns that move it or any mode.
  std::vector<double> centre(channel_count), plus(channel_count), minus(channel_count);
  std::vector<double> shift = physics_.base_shift();
  physics_.evaluate({}, shift, true, true, centre);
  std::vector<std::vector<double>> slopes;
  for (std::size_t p = 0; p < vehicle->parameters.size(); ++p) {
    const auto& parameter = vehicle->parameters[p];
    const double total = std::hypot(parameter.log_sd, parameter.event_log_sd);
    if (total == 0) continue;
    UnknownColumn column{static_cast<Index>(p), parameter.log_sd > 0 ? parameter.log_sd : parameter.event_log_sd,
                         parameter.log_sd > 0 ? 1.0 : 0.0, 0};
    column.event_ratio = parameter.event_log_sd / column.scale;
    const double step = options.secant_sd * total;
    plus = centre;
    minus = centre;
    const auto footprint = physics_.footprint_of_parameter(static_cast<Index>(p));
    shift[p] += step;
    physics_.evaluate({}, shift, physics_.touches_running(footprint), physics_.touches_ohms(footprint), plus);
    shift[p] -= 2 * step;
    physics_.evaluate({}, shift, physics_.touches_running(footprint), physics_.touches_ohms(footprint), minus);
    shift[p] += step;
    std::vector<double> slope(channel_count);
    double largest = 0;
    for (std::size_t c = 0; c < channel_count; ++c) {
      slope[c] = (plus[c] - minus[c]) / (2 * step) * column.scale;
      largest = std::max(largest, std::abs(slope[c]));
    }
    if (largest < k_effect) continue;
    columns.push_back(column);
    slopes.push_back(std::move(slope));
  }
  for (std::size_t k = 0; k < columns.size(); ++k)
    if (columns[k].event_ratio > 0) event_columns.push_back(k);
  width = (1 + columns.size() + 3) / 4 * 4;
  event_at = 1 + width;
  stride = event_at + event_columns.size();
  healthy.assign(channel_count * stride, 0.0);
  for (std::size_t c = 0; c < channel_count; ++c) {
    healthy[c * stride] = centre[c];
    for (std::size_t k = 0; k < columns.size(); ++k) set_column(&healthy[c * stride], k, slopes[k][c]);
  }

  modes.resize(vehicle->modes.size());
  for (std::size_t m = 0; m < modes.size(); ++m) {
    const double p = std::clamp(vehicle->modes[m].prior, 1e-12, 0.5);
    log_odds.push_back(std::log(p / (1 - p)));
  }
  tabulate_all();
  share_causes();
  for (double odds : log_odds) mode_odds_sum += std::exp(odds);
}

void Compiled::set_column(double* row, std::size_t column, double slope) const {
  row[2 + column] = slope * columns[column].vehicle;
  for (std::size_t e = 0; e < event_columns.size(); ++e)
    if (event_columns[e] == column) row[event_at + e] = slope * columns[column].event_ratio;
}

void Compiled::share_causes() {
  // Fault sets within one cause: exactly these members, the others spared.
  shared_cause.resize(modes.size());
  std::vector<double> alone(modes.size(), 0.0);
  for (const auto& cause : vehicle->common_causes) {
    double spared = cause.probability;
    for (const auto& [mode, p] : cause.modes) spared *= 1 - p;
    for (std::size_t i = 0; i < cause.modes.size(); ++i) {
      const auto [a, pa] = cause.modes[i];
      alone[a] += spared * pa / (1 - pa);
      for (std::size_t j = i + 1; j < cause.modes.size(); ++j) {
        const auto [b, pb] = cause.modes[j];
        const double odds = spared * pa / (1 - pa) * pb / (1 - pb);
        auto& list = shared_cause[std::min(a, b)];
        const auto found =
            std::find_if(list.begin(), list.end(), [&](const auto& x) { return x.first == std::max(a, b); });
        if (found != list.end())
          found->second += odds;
        else
          list.emplace_back(std::max(a, b), odds);
      }
    }
  }
  for (std::size_t m = 0; m < modes.size(); ++m) log_odds[m] = std::log(std::exp(log_odds[m]) + alone[m]);
}

double Compiled::pair_log_odds(Index a, Index b) const {
  const double independent = log_odds[a] + log_odds[b];
  for (const auto& [other, odds] : shared_cause[std::min(a, b)])
    if (other == std::max(a, b)) return std::log(std::exp(independent) + odds);
  return independent;
}

void Compiled::tabulate_all() {
  std::atomic<std::size_t> next{0};
  const auto work = [&](ChannelPhysics& physics) {
    for (std::size_t m = next++; m < modes.size(); m = next++) tabulate(static_cast<Index>(m), physics);
  };
  // Modes do not depend on each other: the tables are the same however many hands make them.
  std::vector<std::future<void>> helpers;
  const std::size_t hands = std::clamp<std::size_t>(std::thread::hardware_concurrency(), 1, k_most_threads);
  while (helpers.size() + 1 < hands && modes.size() > k_modes_worth_a_thread) {
    auto second = vehicle->physics ? vehicle->physics->another() : nullptr;
    if (!second) break;
    auto own = std::make_shared<model::Vehicle>(*vehicle);
    own->physics = std::move(second);
    helpers.push_back(std::async(std::launch::async, [this, own = std::move(own), &work] {
      ChannelPhysics physics(own, workshop);
      work(physics);
    }));
  }
  std::exception_ptr first;
  try {
    work(physics_);
  } catch (...) {
    first = std::current_exception();
    next = modes.size();
  }
  for (auto& helper : helpers) {
    try {
      helper.get();
    } catch (...) {
      if (!first) first = std::current_exception();
    }
  }
  if (first) std::rethrow_exception(first);
}

void Compiled::tabulate(Index index, ChannelPhysics& physics) {
  const auto& mode = vehicle->modes[index];
  auto& table = modes[index];
  table.footprint = physics.footprint_of_mode(index);
  table.electrical = !mode.changes.empty();
  const bool degrees = mode.has_severity();
  const int node_count = !table.electrical ? 0 : degrees ? options.severity_nodes : 1;
  const bool running = physics.touches_running(table.footprint), ohms = physics.touches_ohms(table.footprint);

  // Physics at the nodes: centre and the columns whose footprint meets the mode's; across stages log shifts add, so
  // all other columns are the healthy ones.
  std::vector<std::vector<double>> node(node_count, healthy);  // rows without slope: [channel][stride]
  std::vector<std::vector<double>> centre(node_count);         // [channel]
  std::vector<double> position(node_count);
  std::vector<double> shift = physics.base_shift();
  for (int k = 0; k < node_count; ++k) {
    position[k] = degrees ? -k_severity_tail + (1 + 2 * k_severity_tail) * k / (node_count - 1) : 0.5;
    const std::array<circuit::ActiveMode, 1> fault{{{index, position[k]}}};
    centre[k].resize(channel_count);
    for (std::size_t c = 0; c < channel_count; ++c) centre[k][c] = healthy[c * stride];
    physics.evaluate(fault, shift, running, ohms, centre[k]);
    for (std::size_t c = 0; c < channel_count; ++c) node[k][c * stride] = centre[k][c];
  }
  // Columns change slowly along the severity: every other node is enough for them, and of those only as many as it
  // takes to follow the change; the others lie on the straight line between their neighbours.
  std::vector<double> plus(channel_count), minus(channel_count);
  for (std::size_t j = 0; j < columns.size() && node_count > 0; ++j) {
    const auto shared = physics.footprint_of_parameter(columns[j].parameter) & table.footprint;
    if (shared.none()) continue;
    const auto& parameter = vehicle->parameters[columns[j].parameter];
    const double step = options.secant_sd * std::hypot(parameter.log_sd, parameter.event_log_sd);
    const bool move_ohms = physics.touches_ohms(shared), move_running = physics.touches_running(shared);
    const auto concerned = [&](std::size_t c) {
      const bool is_ohm = !channels[c].margin && vehicle->tests[channels[c].test].reads == model::Reads::ohms;
      return is_ohm ? move_ohms : move_running;
    };
    std::vector<std::vector<double>> slope(degrees ? (node_count + 1) / 2 : 1);  // [node / 2][channel]
    const auto evaluate = [&](std::size_t at) {
      const auto k = 2 * at;
      const std::array<circuit::ActiveMode, 1> fault{{{index, position[k]}}};
      plus = centre[k];
      minus = centre[k];
      shift[columns[j].parameter] += step;
      physics.evaluate(fault, shift, move_running, move_ohms, plus);
      shift[columns[j].parameter] -= 2 * step;
      physics.evaluate(fault, shift, move_running, move_ohms, minus);
      shift[columns[j].parameter] += step;
      slope[at].resize(channel_count);
      for (std::size_t c = 0; c < channel_count; ++c)
        slope[at][c] = (plus[c] - minus[c]) / (2 * step) * columns[j].scale;
    };
    const auto straight = [&](std::size_t low, std::size_t at, std::size_t high, std::size_t c) {
      const double share = static_cast<double>(at - low) / static_cast<double>(high - low);
      return slope[low][c] + share * (slope[high][c] - slope[low][c]);
    };
    const auto fill = [&](std::size_t low, std::size_t high) {
      for (std::size_t at = low + 1; at < high; ++at) {
        if (!slope[at].empty()) continue;
        slope[at].resize(channel_count);
        for (std::size_t c = 0; c < channel_count; ++c) slope[at][c] = straight(low, at, high, c);
      }
    };
    const std::function<void(std::size_t, std::size_t)> refine = [&](std::size_t low, std::size_t high) {
      if (high - low < 2) return;
      const std::size_t middle = (low + high) / 2;
      evaluate(middle);
      bool follows = true;
      for (std::size_t c = 0; c < channel_count && follows; ++c)
        follows = !concerned(c) || std::abs(slope[middle][c] - straight(low, middle, high, c)) < k_straight;
      if (follows) {
        fill(low, middle);
        fill(middle, high);
        return;
      }
      refine(low, middle);
      refine(middle, high);
    };
    const std::size_t last = slope.size() - 1;
    evaluate(0);
    if (last > 0) {
      evaluate(last);
      bool as_healthy = true;
      for (std::size_t c = 0; c < channel_count && as_healthy; ++c) {
        const double sound = healthy[c * stride + 2 + j] / (columns[j].vehicle > 0 ? columns[j].vehicle : 1.0);
        for (const std::size_t end : {std::size_t{0}, last})
          as_healthy &= !concerned(c) || std::abs(slope[end][c] - sound) < k_straight;
      }
      if (as_healthy && columns[j].vehicle > 0)
        fill(0, last);
      else
        refine(0, last);
    }
    for (std::size_t at = 0; at <= last; ++at)
      for (std::size_t c = 0; c < channel_count; ++c)
        if (concerned(c)) set_column(&node[2 * at][c * stride], j, slope[at][c]);
  }
  table.moves.assign(channel_count, 0);
  for (const auto& rows : node)
    for (std::size_t c = 0; c < channel_count; ++c)
      for (std::size_t j = 0; j < stride && !table.moves[c]; ++j)
        table.moves[c] = std::abs(rows[c * stride + j] - healthy[c * stride + j]) > k_moves;
  for (int level = 0; level < k_levels; ++level) {
    auto& set = table.cells[level];
    if (!degrees) {
      set.weight = {1};
      set.centre = {0.5};
      set.half_width = {0};
      set.rows = table.electrical ? node[0] : healthy;
      continue;
    }
    set = even_cells(level == k_coarse ? options.pair_nodes : level == k_medium ? 5 : options.severity_cells);
    set.rows.assign(set.weight.size() * channel_count * stride, 0.0);
    for (std::size_t c = 0; c < channel_count; ++c) {
      if (!table.moves[c]) {
        for (std::size_t cell = 0; cell < set.weight.size(); ++cell)
          std::copy_n(healthy_row(static_cast<int>(c)), stride, &set.rows[(cell * channel_count + c) * stride]);
        continue;
      }
      for (std::size_t j = 0; j < stride; ++j) {
        if (j == 1) continue;
        const int step = j == 0 ? 1 : 2;
        std::vector<double> x, y;
        for (int k = 0; k < node_count; k += step) {
          x.push_back(position[k]);
          y.push_back(node[k][c * stride + j]);
        }
        const MonotoneCubic curve(x, y);
        for (std::size_t cell = 0; cell < set.weight.size(); ++cell) {
          double* row = &set.rows[(cell * channel_count + c) * stride];
          row[j] = curve.at(set.centre[cell]);
          if (j == 0)
            // Secant over the cell, as for the unknowns: kinks are not linearised at a point.
            row[1] = (curve.at(set.centre[cell] + set.half_width[cell]) -
                      curve.at(set.centre[cell] - set.half_width[cell])) /
                     2;
        }
      }
    }
  }
}

const PairCorrection& Compiled::correction(Index a, Index b, int level) const {
  const std::lock_guard lock(mutex_);
  const auto key = std::tuple{a, b, level};
  if (const auto found = corrections_.find(key); found != corrections_.end()) return found->second;
  PairCorrection out;
  const auto &cells_a = modes[a].cells[level], &cells_b = modes[b].cells[level];
  out.shift.assign(cells_a.weight.size() * cells_b.weight.size() * channel_count, 0.0);
  const auto shared = modes[a].footprint & modes[b].footprint;
  const auto both = modes[a].footprint | modes[b].footprint;
  std::vector<double> joint_value(channel_count);
  for (std::size_t i = 0; i < cells_a.weight.size(); ++i)
    for (std::size_t j = 0; j < cells_b.weight.size(); ++j) {
      const std::array<circuit::ActiveMode, 2> faults{{{a, cells_a.centre[i]}, {b, cells_b.centre[j]}}};
      std::fill(joint_value.begin(), joint_value.end(), 0.0);
      physics_.evaluate(faults, physics_.base_shift(), physics_.touches_running(both), physics_.touches_ohms(both),
                        joint_value);
      double* shift = &out.shift[(i * cells_b.weight.size() + j) * channel_count];
      for (std::size_t c = 0; c < channel_count; ++c) {
        const bool is_ohm = !channels[c].margin && vehicle->tests[channels[c].test].reads == model::Reads::ohms;
        if (is_ohm ? !physics_.touches_ohms(shared) : !physics_.touches_running(shared)) continue;
        const double sum = row(a, level, i, static_cast<int>(c))[0] + row(b, level, j, static_cast<int>(c))[0] -
                           healthy_row(static_cast<int>(c))[0];
        shift[c] = joint_value[c] - sum;
      }
    }
  return corrections_.emplace(key, std::move(out)).first->second;
}

CompiledPtr compile(std::shared_ptr<const model::Vehicle> vehicle, const model::Workshop& workshop,
                    const Options& options) {
  return std::make_shared<const Compiled>(std::move(vehicle), workshop, options);
}
const model::Vehicle& vehicle_of(const Compiled& compiled) { return *compiled.vehicle; }
const model::Workshop& workshop_of(const Compiled& compiled) { return compiled.workshop; }
const Options& options_of(const Compiled& compiled) { return compiled.options; }

}  // namespace lostspark::inference
