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
  /// > 1: classes heavier than split_above are split by ranges (levels) of what the readings of these tests share, so
  /// that results given class and level are nearly independent.
  std::size_t levels = 1;
  std::span<const Index> shared_by{};
  double split_above = 0.01;
  double drop_mass = 3e-4;          ///< least likely items left out, posterior mass in all (small models keep all)
};

class Forecaster {
 public:
  explicit Forecaster(const Posterior::Impl& posterior, const ForecastOptions& options = {});

  [[nodiscard]] bool empty() const { return items_.empty(); }
  [[nodiscard]] std::size_t classes() const { return members_.size(); }
  /// Components (or repairs) of a class; k_none where there is none.
  [[nodiscard]] std::pair<Index, Index> members(std::size_t cls) const { return members_[cls]; }
  /// Level of a class, -1 where it was not split.
  [[nodiscard]] int level(std::size_t cls) const { return level_[cls]; }
  /// Whether few enough cells are there to keep every digit.
  [[nodiscard]] bool exact() const { return exact_; }
  /// Predicts every channel these tests need, item by item (the tables of one cell lie together). Before gather().
  void prepare(std::span<const Index> tests);
  /// The tests in an order in which those that differ by their provocation only follow each other: gather() and gain()
  /// then share what they have in common.
  [[nodiscard]] std::vector<std::size_t> best_order(std::span<const Index> tests) const;
  /// Works out p(class, outcome) of a test, for whole() and merged(). Bins are bin_sd times as wide as the narrowest
  /// distribution that matters (in exact models: as the reading's scatter).
  const OutcomeGrid& gather(Index test, double bin_sd);
  /// Of the test gathered last: p(outcome), mistaken readings included; sums to 1.
  void whole(std::vector<double>& out) const;
  /// Of the test gathered last: p(class, group of outcomes), row-major by class, mistaken readings included; group[k] <
  /// groups is where outcome k belongs.
  void merged(const std::vector<std::size_t>& group, std::size_t groups, std::vector<double>& out) const;
  /// Mutual information of the test's reading and the class, bits.
  double gain(Index test, double bin_sd);

 private:
  static constexpr std::uint32_t k_no_row = ~0U;
  using Shows = std::array<float, 2 * model::k_provocations>;  ///< probability that fault a, b shows, by provocation
  struct Item {
    const WeightedCell* cell = nullptr;
    double weight = 0;
    std::uint32_t cls = 0, state = 0;
    /// Of an item cut to a level: any channel's mean moves by its covariance with the anchor times `shift`, its variance by
    /// the square of that covariance times `spread` (negative: less).
    std::uint32_t whole = 0;        ///< number of the item before the cut, the same for all its levels
    double shift = 0, spread = 0;
    bool cut = false;
  };
  struct Anchored {                 ///< predictions for the levels of one item
    bool known = false;
    std::vector<ChannelMoments> moments;
    std::vector<double> covariance;
  };
  struct Group {                    ///< items of one class whose faults show alike
    std::uint32_t cls = 0;
    Shows shows{};
    bool steady = true;             ///< the same under every provocation
    std::array<std::uint32_t, 4> row{};  ///< of the tables, by which faults show (bit 0: a, bit 1: b); unsteady only
  };
  struct Slot {                     ///< an item with some of its faults showing
    std::uint32_t item = 0, row = 0;
    double weight = 0;
    bool a = false, b = false;
  };
  struct Moments {
    double mean = 0, variance = 0;
  };
  struct Bump {                     ///< one Gaussian of the predictive mixture of a row; its sums, then its moments
    std::uint64_t key = 0;
    std::uint32_t row = 0;
    double weight = 0, mean = 0, variance = 0;
  };
  struct Span {                     ///< number bins of a row that hold anything: [first, last)
    std::uint32_t first = ~0U, last = 0;
    [[nodiscard]] std::uint32_t size() const { return first < last ? last - first : 0; }
    void cover(const Span& other) {
      if (other.first < first) first = other.first;
      if (other.last > last) last = other.last;
    }
  };
  /// Outcomes by row. A row stores the bins that it reaches: of hundreds over an instrument's range mostly a few. Words are
  /// bins too, and every row reaches all.
  struct Table {
    std::vector<double> floor, over;  ///< by row
    std::vector<Span> span;           ///< by row
    std::vector<std::uint32_t> at;    ///< by row: where its first bin lies in value
    std::vector<double> value;
    void clear(std::size_t rows);
    void lay_out();                   ///< room for all spans, zeros
    [[nodiscard]] double* bin(std::size_t row, std::size_t k) { return &value[at[row] + k - span[row].first]; }
    [[nodiscard]] const double* bins(std::size_t row) const { return &value[at[row]]; }
  };
  struct FaultGroup {               ///< items with the same faults present, for findings
    Index a = model::k_none, b = model::k_none;
    std::uint32_t cls = 0;
    double weight = 0;
  };
  [[nodiscard]] double shows(const WeightedCell& cell, bool second, model::Provocation provocation) const;
  void coarsen(std::vector<std::pair<double, const WeightedCell*>>& order);
  /// Channel that shares most with the others: the mean share of their readings' variance that it explains, given the
  /// heaviest item; -1 where it explains too little to be worth the levels.
  [[nodiscard]] int anchor_of(std::span<const Index> tests);
  /// Splits the items of heavy classes by ranges of the anchor's noise-free reading, of equal probability and the same for
  /// all; each level of a class becomes a class.
  void split(const ForecastOptions& options);
  void make_slots();
  [[nodiscard]] bool same_base(Index a, Index b) const;
  [[nodiscard]] const Moments& moments(int channel, std::size_t slot) const {
    return moments_[static_cast<std::size_t>(plane_[channel]) * slots_.size() + slot];
  }
  [[nodiscard]] double margin_met(int channel, std::size_t slot) const {
    return margin_met_[static_cast<std::size_t>(plane_[channel]) * slots_.size() + slot];
  }
  [[nodiscard]] double met(const std::vector<int>& margins, std::size_t slot) const;
  void add_bump(std::uint32_t row, double weight, double mean, double variance);
  void number(Index test, std::size_t slot);
  void words(Index test, std::size_t slot);
  void findings(const model::Test& test);
  [[nodiscard]] OutcomeGrid grid(Index test, double bin_sd) const;
  struct Reach {                    ///< of a bump on the grid: bins [first, last), inverse of its sd
    std::size_t first = 0, last = 0;
    double inverse = 0;
  };
  [[nodiscard]] Reach reach(const Bump& bump) const;
  void spread(const Bump& bump);
  /// Rows of a test and of those that differ by their provocation only.
  void build_base(Index test, double bin_sd);

  const Posterior::Impl& p_;
  Likelihood likelihood_;
  std::vector<Item> items_;
  std::vector<Group> groups_;
  std::vector<std::uint32_t> group_of_;      // by item
  std::vector<Slot> slots_;
  std::size_t rows_ = 0;                     // classes, then the rows of unsteady groups
  std::vector<State> states_;
  std::vector<std::pair<Index, Index>> members_;
  std::vector<int> level_;                   // by class
  int anchor_ = -1;                          // channel by which items are cut to levels
  std::vector<FaultGroup> fault_groups_;
  std::deque<WeightedCell> coarse_;          // stand in for the fine cells of unlikely modes
  std::vector<int> plane_;                   // by channel: row of moments_, -1 not prepared
  std::vector<Moments> moments_;             // [plane][slot]
  std::vector<float> margin_met_;            // [plane][slot], margins only

  // What tests that differ by their provocation only share.
  Index base_ = model::k_none;
  double base_bin_sd_ = 0;
  OutcomeGrid base_grid_;
  Table base_table_;
  std::vector<Bump> bumps_;
  double step_matters_below_ = 0;            // log of the reading
  std::vector<std::int32_t> hash_;           // of bumps
  mutable std::vector<std::pair<double, double>> narrow_;

  // Of the test gathered last, without mistakes.
  OutcomeGrid grid_;
  Table own_table_;                          // by class, where it is not the base's
  const Table* table_ = nullptr;
  double mistaken_ = 0;
  std::vector<double> class_mass_, whole_;
  double class_entropy_ = 0;
  std::vector<ChannelMoments> predicted_;
  std::vector<std::int8_t> has_row_;         // by mode: the finding at hand knows it
  bool exact_ = false;
  int visit_ = 0;
};

/// Prediction from a table of one class.
[[nodiscard]] Prediction summarise(const OutcomeGrid& grid, const std::vector<double>& outcome);

}  // namespace lostspark::inference
