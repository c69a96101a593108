// Connectors as set-ups part them: where a terminal's harness comes off, and where a meter then gets in.
#pragma once

#include <string>
#include <vector>

#include "sources/compile.hpp"

namespace lostspark::sources {

/// Works on a Build whose harness is laid. Terminals are written "component.terminal".
class Plugs {
 public:
  explicit Plugs(Build& build) : b_(build), v_(build.vehicle) {}

  /// Gives set-ups and conditions of the family their effects and the connectors they move.
  void apply_effects();
  /// The set-ups open this node; any node; the harness at this terminal.
  [[nodiscard]] bool opens(const std::vector<Index>& setups, Index node) const;
  [[nodiscard]] bool opens_any(const std::vector<Index>& setups) const;
  [[nodiscard]] bool opens_at(const std::vector<Index>& setups, const std::string& terminal) const;

  /// Links that have this terminal as an end.
  [[nodiscard]] std::vector<Index> links_at(const std::string& terminal) const;
  /// Where the component's side of a terminal can be reached: its half of the nearest connector, or the terminal;
  /// k_none where no meter gets in.
  [[nodiscard]] Index measured_at(const std::string& terminal) const;
  /// The other end of the meter: likewise, or bare metal for a terminal that is earthed.
  [[nodiscard]] Index return_at(const std::string& terminal) const;
  /// With the harness unplugged at its other end, the loose end is the handy place: the point next to what was opened.
  [[nodiscard]] Index loose_end(const std::string& terminal, const std::vector<Index>& setups) const;
  /// A set-up of the network's own: the whole connector (or the wire) taken off this terminal. Made once each.
  Index unplug(const std::string& terminal);

 private:
  // The nearest connector met along a link from one of its ends.
  struct Plug {
    Index component = model::k_none;
    Index near = model::k_none;   // node on the end's side of the contact
    Index mated = model::k_none;  // between the halves: opening it unplugs this pin
  };
  [[nodiscard]] Plug plug_at(Index link, const std::string& terminal) const;
  // A link that begins at a node of another chain has nothing of its own at its first terminal.
  [[nodiscard]] bool holds_own_end(Index link, const std::string& terminal) const;
  // Takes the harness off a terminal: at the nearest connector of each of its links, where it has one.
  void open_terminal(model::Setup& setup, const std::string& terminal);

  Build& b_;
  model::Vehicle& v_;
};

}  // namespace lostspark::sources
