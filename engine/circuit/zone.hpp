// One electrical zone: nodes joined by elements, earth apart. Symbolic elimination is done once; numeric factorisation
// runs on flat arrays without allocation. A harness is nearly a tree, so a good order fills nothing.
#pragma once

#include <complex>
#include <cstdint>
#include <span>
#include <vector>

namespace lostspark::circuit {

/// A branch of a zone by local node numbers; -1 is earth.
struct Branch {
  int a = -1, b = -1;
  int element = -1;  ///< position in the caller's table of admittances
};

/// Elimination plan of one zone. Nodes are local 0..n-1; the last `terminals` of them in elimination order stay for the
/// Schur complement.
class ZonePlan {
 public:
  /// n nodes; `is_terminal[n]`; branches. Interior nodes are ordered by least degree. O(n^2) once.
  ZonePlan(int n, const std::vector<bool>& is_terminal, std::vector<Branch> branches);

  [[nodiscard]] int size() const { return n_; }
  [[nodiscard]] int interior() const { return n_ - terminals_; }
  [[nodiscard]] int terminals() const { return terminals_; }
  /// Elimination position of a local node.
  [[nodiscard]] int position(int node) const { return position_[node]; }
  [[nodiscard]] std::size_t entries() const { return columns_.size(); }

  /// Factorises. `admittance` by Branch::element; `shunt[node]` further conductance to earth by local node. Scratch arrays
  /// `diagonal[n]`, `lower[entries()]` receive D and the multipliers below it (by eliminated column).
  /// After the call the trailing terminal block holds the Schur complement; with `whole` it is eliminated as well.
  /// Every node needs some way to earth.
  template <class T>
  void factor(std::span<const T> admittance, std::span<const T> shunt, std::span<T> diagonal, std::span<T> lower,
              bool whole = false) const;

  /// Solves for all nodes with right-hand side x (by position), in place; every node is unknown, terminals too: after a
  /// factorisation of the whole.
  template <class T>
  void solve(std::span<const T> diagonal, std::span<const T> lower, std::span<T> x) const;

  /// Interior volts from terminal volts without injected currents: x[interior..n) given, x[0..interior) filled.
  void back_substitute(std::span<const double> lower, std::span<double> x) const;

  /// Driving-point resistance of the interior node at `position` with all terminals held: (e^T A_ii^-1 e).
  double driving_point(std::span<const double> diagonal, std::span<const double> lower, int position,
                       std::span<double> scratch) const;

  /// Driving-point resistance of the node at `position`, every node unknown: after a factorisation of the whole.
  [[nodiscard]] double whole_driving_point(std::span<const double> diagonal, std::span<const double> lower, int position,
                                           std::span<double> scratch) const;

  /// Schur complement entry (terminal i, j by position - interior()), from the arrays factor() filled.
  [[nodiscard]] double schur(std::span<const double> diagonal, std::span<const double> lower, int i, int j) const;

 private:
  double driving_point_below(std::span<const double> diagonal, std::span<const double> lower, int position, int last,
                             std::span<double> scratch) const;
  int n_ = 0, terminals_ = 0;
  std::vector<int> position_;
  std::vector<Branch> branches_;
  // Column structure of the factor by elimination position: rows below the diagonal.
  std::vector<int> start_;     // n + 1
  std::vector<int> columns_;   // row positions
  std::vector<int> slot_;      // per branch: entry in `lower`, or -1
  std::vector<int> update_;    // for each column, each pair (p, q) of its rows, the entry it updates (p >= q; diagonal = -1)
  std::vector<int> update_start_;
  [[nodiscard]] int entry(int row, int column) const;
};

}  // namespace lostspark::circuit
