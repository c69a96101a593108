#include "job/healthy.hpp"

#include <algorithm>
#include <cmath>
#include <map>

#include "inference/channels.hpp"
#include "job/reading_parser.hpp"
#include "learning/healthy.hpp"
#include "model/generative.hpp"

namespace lostspark::job {
namespace {

using model::Index;
using model::Origin;

constexpr double k_secant_sd = 1.22;  // as inference takes its secants
constexpr double k_moves = 1e-4;      // of the log; as inference drops columns
constexpr double k_ninety_percent = 1.6448536269514722;
constexpr std::size_t k_enough_to_contradict = 3;

/// Share of the file's variance that is doubt about the kind of vehicle: docs/learning.md, 1.
double doubt_of(const model::Parameter& p) {
  switch (p.origin) {
    case Origin::service_data:
      return 1 / (1 + 4.0);
    case Origin::shop:
    case Origin::judgement:
      return 1 / (1 + 1.5);
    case Origin::family:
      break;
  }
  return 1 / (1 + 1.0);
}

/// Scatter of one reading of this test on one vehicle; of the log.
double noise_of(const model::Test& test, const model::Workshop& workshop, double event_variance) {
  double variance = test.log_sd * test.log_sd + event_variance;
  if (const auto* i = workshop.find(test.instrument, test.unit)) variance += i->accuracy_log_sd * i->accuracy_log_sd;
  return variance;
}

double mistaken_density(const model::Test& test, const model::Workshop& workshop) {
  const auto* i = workshop.find(test.instrument, test.unit);
  const double decades = i != nullptr && i->floor > 0 && i->range > i->floor ? std::log(i->range / i->floor) : 9;
  return model::k_mistaken_inside / decades;
}

double median_of(std::vector<double> values) {
  std::sort(values.begin(), values.end());
  const std::size_t n = values.size();
  return n % 2 == 1 ? values[n / 2] : (values[n / 2 - 1] + values[n / 2]) / 2;
}

Index matters_most(const HealthyRows& rows, std::size_t channel) {
  Index out = model::k_none;
  double most = 0;
  for (std::size_t k = 0; k < rows.parameter.size(); ++k)
    if (std::abs(rows.column[channel][k]) > most) {
      most = std::abs(rows.column[channel][k]);
      out = rows.parameter[k];
    }
  return out;
}

}  // namespace

HealthyRows healthy_rows(const std::shared_ptr<const model::Vehicle>& vehicle, const model::Workshop& workshop) {
  const auto& v = *vehicle;
  inference::ChannelPhysics physics(vehicle, workshop);
  HealthyRows out;
  for (const auto& map : physics.tests) out.channel.push_back(map.primary);
  const std::size_t channels = physics.channels.size();
  std::vector<double> shift = physics.base_shift(), plus(channels), minus(channels);
  out.centre.assign(channels, 0.0);
  physics.evaluate({}, shift, true, true, out.centre);
  out.column.resize(channels);
  out.event_variance.assign(channels, 0.0);
  for (std::size_t p = 0; p < v.parameters.size(); ++p) {
    const auto& parameter = v.parameters[p];
    const double total = std::hypot(parameter.log_sd, parameter.event_log_sd);
    if (total == 0) continue;
    const double step = k_secant_sd * total;
    plus = minus = out.centre;
    const auto footprint = physics.footprint_of_parameter(static_cast<Index>(p));
    const bool running = physics.touches_running(footprint), ohms = physics.touches_ohms(footprint);
    shift[p] += step;
    physics.evaluate({}, shift, running, ohms, plus);
    shift[p] -= 2 * step;
    physics.evaluate({}, shift, running, ohms, minus);
    shift[p] += step;
    double largest = 0;
    std::vector<double> slope(channels);
    for (std::size_t c = 0; c < channels; ++c) {
      slope[c] = (plus[c] - minus[c]) / (2 * step);
      largest = std::max(largest, std::abs(slope[c]) * total);
      out.event_variance[c] += std::pow(slope[c] * parameter.event_log_sd, 2);
    }
    if (largest < k_moves || parameter.log_sd == 0) continue;
    out.parameter.push_back(static_cast<Index>(p));
    for (std::size_t c = 0; c < channels; ++c) out.column[c].push_back(slope[c] * parameter.log_sd);
  }
  return out;
}

Learned learn_healthy(const std::shared_ptr<const model::Vehicle>& as_filed, const model::Workshop& workshop,
                      const std::vector<history::Baseline>& readings) {
  const auto& v = *as_filed;
  Learned out;
  if (readings.empty()) return out;
  const auto rows = healthy_rows(as_filed, workshop);
  learning::HealthyPrior prior;
  for (const Index p : rows.parameter) prior.doubt.push_back(doubt_of(v.parameters[p]));
  std::vector<learning::HealthyReading> data;
  std::map<int, std::size_t> fitted;  // channel -> test of the fit
  std::map<std::string, std::size_t> individuals;
  for (const auto& b : readings) {
    const auto test = v.find_test(b.test);
    if (!test || rows.channel[*test] < 0 || !(b.value > 0) || b.unit != v.tests[*test].unit) continue;
    const auto& t = v.tests[*test];
    const auto channel = static_cast<std::size_t>(rows.channel[*test]);
    learning::HealthyReading r;
    const std::string who = !b.individual.empty() ? "vehicle " + b.individual
                            : b.source == "job"   ? "job " + b.job
                                                  : "reading " + std::to_string(b.number);
    r.individual = individuals.emplace(who, individuals.size()).first->second;
    r.test = fitted.emplace(rows.channel[*test], fitted.size()).first->second;
    r.residual = std::log(b.value) - rows.centre[channel];
    r.column = rows.column[channel];
    r.noise_variance = noise_of(t, workshop, rows.event_variance[channel]);
    r.mistaken = t.mistaken;
    r.mistaken_density = mistaken_density(t, workshop);
    data.push_back(std::move(r));
  }
  if (data.empty()) return out;
  const auto fit = learning::fit_healthy(prior, data, fitted.size());
  for (std::size_t k = 0; k < rows.parameter.size(); ++k) {
    const bool informed = fit.covariance(k, k) < 0.99 * prior.doubt[k];
    if (!informed) continue;
    const auto& p = v.parameters[rows.parameter[k]];
    out.parameters.push_back({p.id, p.typical * std::exp(p.log_sd * fit.shift[k]),
                              p.log_sd * learning::spread_factor(prior, fit, k),
                              p.event_log_sd * learning::scatter_factor(fit, k)});
  }
  std::map<int, std::int32_t> counts;
  for (const auto& r : data)
    for (const auto& [channel, row] : fitted)
      if (row == r.test) ++counts[channel];
  // All tests that read the same quantity share it.
  for (std::size_t t = 0; t < v.tests.size(); ++t)
    if (const auto at = fitted.find(rows.channel[t]); at != fitted.end() && rows.channel[t] >= 0)
      out.tests.push_back({v.tests[t].id, fit.offset[at->second], counts[at->first]});
  return out;
}

std::string origin_words(model::Origin origin) {
  switch (origin) {
    case Origin::service_data:
      return "service data";
    case Origin::shop:
      return "shop";
    case Origin::judgement:
      return "judgement";
    case Origin::family:
      break;
  }
  return "family default";
}

std::string band_origin(const model::Vehicle& v, const model::Test& test, model::Index parameter) {
  if (test.learned_from > 0) return "shop (" + std::to_string(test.learned_from) + ")";
  if (parameter == model::k_none) return "family default";
  const auto& p = v.parameters[parameter];
  switch (p.origin) {
    case Origin::family:
      return "family default";
    case Origin::service_data:
      return p.origin_note.empty() ? "service data" : "service data: " + p.origin_note;
    case Origin::shop:
      return "shop, by other readings";
    case Origin::judgement:
      break;
  }
  return "vehicle file";
}

std::vector<HealthyView> healthy_bands(const std::shared_ptr<const model::Vehicle>& as_filed,
                                       const std::shared_ptr<const model::Vehicle>& learned,
                                       const model::Workshop& workshop,
                                       const std::vector<history::Baseline>& readings) {
  const auto& v = *learned;
  const auto file_rows = healthy_rows(as_filed, workshop);
  const auto rows = learned == as_filed ? file_rows : healthy_rows(learned, workshop);
  std::vector<HealthyView> out;
  for (std::size_t t = 0; t < v.tests.size(); ++t) {
    const auto& test = v.tests[t];
    if (rows.channel[t] < 0) continue;
    const auto channel = static_cast<std::size_t>(rows.channel[t]);
    const auto band = [&](const HealthyRows& r) {
      double variance = noise_of(test, workshop, r.event_variance[channel]);
      for (const double c : r.column[channel]) variance += c * c;
      return std::pair{r.centre[channel], k_ninety_percent * std::sqrt(variance)};
    };
    HealthyView view;
    view.test = static_cast<Index>(t);
    view.test_id = test.id;
    view.title = test.title;
    view.unit = test.unit;
    view.place = test.place;
    const auto [centre, half] = band(rows);
    view.low = std::exp(centre - half);
    view.median = std::exp(centre);
    view.high = std::exp(centre + half);
    const auto most = matters_most(rows, channel);
    view.origin = band_origin(v, test, most);
    if (test.learned_from == 0 && most != model::k_none) view.origin_note = v.parameters[most].origin_note;
    view.readings = test.learned_from;
    if (test.healthy_low > 0 || test.healthy_high > 0) {
      view.stated_low = test.healthy_low;
      view.stated_high = test.healthy_high;
      view.stated_origin = origin_words(test.healthy_origin);
      view.stated_note = test.healthy_note;
    }
    std::vector<double> values;
    for (const auto& b : readings)
      if (b.test == test.id && b.unit == test.unit) values.push_back(b.value);
    if (values.size() >= k_enough_to_contradict) {
      const double median = median_of(values);
      const auto [file_centre, file_half] = band(file_rows);
      const std::string shop = "the shop's " + std::to_string(values.size()) + " healthy readings have median " +
                               with_unit(median, test.unit);
      if (std::abs(std::log(median) - file_centre) > file_half)
        view.contradiction = shop + ", the file predicts " + with_unit(std::exp(file_centre - file_half), test.unit) +
                             " .. " + with_unit(std::exp(file_centre + file_half), test.unit);
      else if ((view.stated_low > 0 && median < view.stated_low) || (view.stated_high > 0 && median > view.stated_high))
        view.contradiction = shop + ", which the band stated in the file (" + view.stated_origin + ") excludes";
    }
    out.push_back(std::move(view));
  }
  return out;
}

}  // namespace lostspark::job
