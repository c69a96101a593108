// What tests would show: for every cell and branch kept, the distribution of a further reading, gathered by class (set of
// components at fault now, or of repairs needed).
#pragma once

#include <array>
#include <deque>
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
  [[nodiscard]] double mistaken_share(std::size_t outcome) const;  ///< of a mistaken reading
};

struct ForecastOptions {
  Index only_mode = model::k_none;  ///< only cells where this is the single fault present
  bool by_repair = false;           ///< classes are sets of repairs needed instead of components at fault
  bool keep_all = false;            ///< no cell left out, coarsened or merged
  double drop_mass = 3e-4;          ///< least likely items left out, posterior mass in all (small models keep all)
};

class Forecaster {
 public:
  explicit Forecaster(const Posterior::Impl& posterior, const ForecastOptions& options = {});

  [[nodiscard]] bool empty() const { return items_.empty(); }
  [[nodiscard]] std::size_t classes() const { return members_.size(); }
  /// Components (or repairs) of a class; k_none where there is none.
  [[nodiscard]] std::pair<Index, Index> members(std::size_t cls) const { return members_[cls]; }
  [[nodiscard]] OutcomeGrid grid(Index test, double bin_sd) const;
  /// Whether few enough cells are there to keep every digit.
  [[nodiscard]] bool exact() const { return exact_; }
  /// Predicts every channel these tests need, item by item (the tables of one cell lie together). Before gather().
  void prepare(std::span<const Index> tests);
  /// Fills p(class, outcome) into table[classes() * outcomes], row-major by class; sums to 1.
  void gather(Index test, const OutcomeGrid& grid, std::vector<double>& table);

 private:
  struct Item {
    const WeightedCell* cell = nullptr;
    double weight = 0;
    std::uint32_t cls = 0, state = 0;
    std::array<float, 2 * model::k_provocations> shows{};  ///< probability that fault a, b shows, by provocation
    bool steady = true;             ///< the same under every provocation
  };
  struct Moments {
    float mean = 0, variance = 0;
  };
  struct Bump {                     ///< one Gaussian of the predictive mixture of a class
    std::uint64_t key = 0;
    std::uint32_t cls = 0;
    double weight = 0, mean = 0, variance = 0;
  };
  struct Base {                     ///< what the steady items give for tests that differ by their provocation only
    Index test = model::k_none;     ///< one of them
    std::vector<double> table;
  };
  struct FaultGroup {               ///< items with the same faults present, for findings
    Index a = model::k_none, b = model::k_none;
    std::uint32_t cls = 0;
    double weight = 0;
  };
  [[nodiscard]] double shows(const WeightedCell& cell, bool second, model::Provocation provocation) const;
  void coarsen(std::vector<std::pair<double, const WeightedCell*>>& order);
  [[nodiscard]] ChannelMoments moments(int channel, std::size_t item, bool a, bool b);
  double met(const std::vector<int>& margins, std::size_t item, bool a, bool b);
  double margin_met(int channel, std::size_t item, bool a, bool b);
  void add_bump(std::uint32_t cls, double weight, double mean, double variance);
  void number(Index test, std::size_t item, bool a, bool b, double weight, double* out);
  void words(Index test, std::size_t item, bool a, bool b, double weight, double* out);
  void findings(const model::Test& test, const OutcomeGrid& grid, std::vector<double>& table) const;
  void spread(const OutcomeGrid& grid, const Bump& bump, double* out) const;
  void add_items(Index test, const OutcomeGrid& grid, bool steady, std::vector<double>& table);

  const Posterior::Impl& p_;
  Likelihood likelihood_;
  std::vector<Item> items_;
  std::vector<State> states_;
  std::vector<std::pair<Index, Index>> members_;
  std::vector<FaultGroup> fault_groups_;
  std::vector<Bump> bumps_;
  std::vector<std::int32_t> slots_;          // hash of bumps
  std::deque<WeightedCell> coarse_;          // stand in for the fine cells of unlikely modes
  std::vector<int> plane_;                   // by channel: row of moments_, -1 not prepared
  std::vector<Moments> moments_;             // [plane][item], all faults present showing
  std::vector<Moments> hidden_moments_;      // the same with none showing; variance < 0: not computed yet
  std::vector<Base> bases_;
  std::vector<float> margin_met_;            // [plane][item], margins only
  bool exact_ = false;
  int visit_ = 0;
};

/// Prediction from a table of one class.
[[nodiscard]] Prediction summarise(const OutcomeGrid& grid, const std::vector<double>& outcome);

}  // namespace lostspark::inference
