// A SPICE deck as text: safe node names, elements by name, measurements. Knows nothing of ignition.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace lostspark::spice {

/// One deck under construction. Values in SI units; a resistance of zero becomes 0.1 milliohm, since ngspice would
/// replace it by a value of its own.
class Deck {
 public:
  explicit Deck(std::string title);

  /// Name of a node in the deck; "earth" and "0" are node 0.
  [[nodiscard]] static std::string node(std::string_view id);
  /// Number as ngspice reads it, with nine digits.
  [[nodiscard]] static std::string number(double value);

  void comment(std::string_view text);
  void line(std::string text);
  void resistor(std::string_view name, std::string_view a, std::string_view b, double ohm);
  /// 0 V source: i(V<name>) is the current from a to b.
  void ammeter(std::string_view name, std::string_view a, std::string_view b);
  /// `.meas tran <name> <what>`; names must be unique in the deck.
  void measure(std::string_view name, std::string_view what);
  /// Input resistance and single-pole response of a meter from a to b; its pointer is the node meter_volts(name).
  void meter(std::string_view name, std::string_view a, std::string_view b, double input_ohm, double rise_time_second);
  [[nodiscard]] static std::string meter_volts(std::string_view name);

  [[nodiscard]] std::string text() const;

 private:
  std::string title_;
  std::vector<std::string> lines_;
};

}  // namespace lostspark::spice
