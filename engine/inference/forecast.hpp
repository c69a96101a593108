// What tests would show: for every cell and branch kept, the distribution of a further reading, gathered by class (set of
// components at fault now) or as a whole.
#pragma once

#include <map>
#include <memory>
#include <vector>

#include "inference/posterior_impl.hpp"

namespace lostspark::inference {

/// Outcomes of one test: for numbers floor, bins over the log range, over; for words the words.
struct OutcomeGrid {
  bool word = false;
  double low = 0, width = 1;        ///< log of the lower border of bin 0, bin width
  std::size_t bins = 0;             ///< number bins; outcome 0 = floor, 1 .. bins, bins + 1 = over range
  std::size_t outcomes = 0;
};

class Forecaster {
 public:
  /// Keeps cells of at least `least` of the posterior mass. only_mode: k_none = all; else cells where that mode is the
  /// single fault present.
  /// by_repair: classes are sets of repairs needed instead of sets of components.
  Forecaster(const Posterior::Impl& posterior, double least, Index only_mode = model::k_none, bool by_repair = false);

  [[nodiscard]] bool empty() const { return items_.empty(); }
  [[nodiscard]] std::size_t classes() const { return class_count_; }
  /// Components (or repairs) of a class; k_none where there is none.
  [[nodiscard]] std::pair<Index, Index> members(std::size_t cls) const { return members_[cls]; }
  [[nodiscard]] OutcomeGrid grid(Index test, double bin_sd) const;
  /// Adds p(class, outcome) into table[classes() * outcomes], row-major by class; sums to 1.
  void gather(Index test, const OutcomeGrid& grid, std::vector<double>& table);

 private:
  struct Item {
    const WeightedCell* cell = nullptr;
    double weight = 0;
    int cls = 0;
    std::size_t state = 0;
  };
  double shows(const WeightedCell& cell, bool second, model::Provocation provocation) const;
  void number(Index test, const OutcomeGrid& grid, const Item& item, bool a, bool b, double weight, double* out);
  void words(Index test, const Item& item, bool a, bool b, double weight, double* out);
  double met(const std::vector<int>& margins, const Item& item, bool a, bool b);

  const Posterior::Impl& p_;
  Likelihood likelihood_;
  std::vector<Item> items_;
  std::vector<State> states_;
  std::size_t class_count_ = 0;
  std::vector<std::pair<Index, Index>> members_;
  int visit_ = 0;
};

/// Prediction from a table of one class.
[[nodiscard]] Prediction summarise(const OutcomeGrid& grid, const std::vector<double>& outcome);

}  // namespace lostspark::inference
