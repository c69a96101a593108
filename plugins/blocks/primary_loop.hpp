// What the harness is to an inductive primary: a source behind resistances, seen at two ports.
//
// Port "coil": between the harness at terminal 15 and at terminal 1. Port "switch": between the switch's output and its
// earth. The coil's current i and the volts v across the switch are what changes fast, so everything else is written in
// them:
//   volts over the coil    = volt   - ohm i        - share v
//   current into the switch = ampere + share i     - siemens v
// A sound harness has share = 1 and siemens = 0: one loop. A chafed wire between coil and switch takes part of i.
#pragma once

#include <algorithm>
#include <array>
#include <cstddef>

#include "harness.hpp"

namespace lostspark::blocks {

/// Terminals in the order of the packed harness matrix; further nodes are only watched (a control unit's supply pin).
enum LoopTerminal : std::size_t { k_loop_supply, k_loop_primary, k_loop_output, k_loop_ground, k_loop_terminals };

/// Volts of one node: linear in the coil's current and the switch's volts.
struct LoopNode {
  double standing = 0, per_ampere = 0, per_volt = 0;
  [[nodiscard]] double at(double ampere, double volt) const { return standing + per_ampere * ampere + per_volt * volt; }
};

template <std::size_t N>
struct PrimaryLoop {
  double volt = 0, ohm = 0, share = 1, ampere = 0, siemens = 0;
  std::array<LoopNode, N> node{};

  /// Current that flows for good with the switch open: nothing in a sound harness.
  [[nodiscard]] double standing_current(double coil_ohm) const {
    return (volt - share * ampere / siemens) / (coil_ohm + ohm + share * share / siemens);
  }
};

/// packed: nodal conductances at the N terminals (LS_INPUT_TERMINAL); open_volt: their volts to earth without the stage
/// (LS_INPUT_LINEAR_VOLTS), the coil's primary being part of the network they were found in with `coil_ohm`; it is
/// taken out again, since here it is an inductance.
template <std::size_t N>
PrimaryLoop<N> primary_loop(const double* packed, const double* open_volt, double coil_ohm) {
  static_assert(N >= k_loop_terminals);
  auto y = unpack_harness<N>(packed);
  Vector<N> source{};  // currents that the network's sources send into the shorted terminals
  for (std::size_t i = 0; i < N; ++i)
    for (std::size_t j = 0; j < N; ++j) source[i] += y[i][j] * open_volt[j];
  // Never more than is there: a network without the coil stays one.
  join(y, k_loop_supply, k_loop_primary, -std::clamp(-y[k_loop_supply][k_loop_primary], 0.0, 1 / coil_ohm));
  // A floating node stays a node.
  y[k_loop_supply][k_loop_supply] += k_stray_siemens;
  y[k_loop_primary][k_loop_primary] += k_stray_siemens;

  // The switch's volts tie output to ground: one unknown less. index: position among the unknowns.
  constexpr std::size_t M = N - 1;
  const auto index = [](std::size_t n) { return n == k_loop_output ? k_loop_output : n > k_loop_output ? n - 1 : n; };
  Matrix<M> a{};
  std::array<Vector<3>, M> b{};  // standing, per ampere, per volt
  for (std::size_t i = 0; i < N; ++i) {
    for (std::size_t j = 0; j < N; ++j) a[index(i)][index(j)] += y[i][j];
    b[index(i)][0] += source[i];
    b[index(i)][2] -= y[i][k_loop_output];
  }
  b[index(k_loop_supply)][1] -= 1;
  b[index(k_loop_primary)][1] += 1;
  solve_symmetric(a, b);

  PrimaryLoop<N> loop;
  for (std::size_t i = 0; i < N; ++i) {
    const auto& x = b[index(i)];
    loop.node[i] = {x[0], x[1], x[2] + (i == k_loop_output ? 1.0 : 0.0)};
  }
  const auto &supply = loop.node[k_loop_supply], &primary = loop.node[k_loop_primary];
  loop.volt = supply.standing - primary.standing;
  loop.ohm = primary.per_ampere - supply.per_ampere;
  loop.share = primary.per_volt - supply.per_volt;
  // What enters the switch is what reaches its output from the network.
  double rows[3] = {source[k_loop_output], 0, 0};
  for (std::size_t j = 0; j < N; ++j) {
    rows[0] -= y[k_loop_output][j] * loop.node[j].standing;
    rows[2] -= y[k_loop_output][j] * loop.node[j].per_volt;
  }
  loop.ampere = rows[0];
  loop.siemens = -rows[2];
  return loop;
}

}  // namespace lostspark::blocks
