#include "spice/deck.hpp"

#include <fmt/format.h>

#include <cctype>

namespace lostspark::spice {

namespace {
/// Letters, digits and underscores, lower case: ngspice does not tell cases apart.
std::string plain(std::string_view id) {
  std::string out;
  for (const char c : id) {
    const auto u = static_cast<unsigned char>(c);
    out += std::isalnum(u) ? static_cast<char>(std::tolower(u)) : '_';
  }
  return out;
}
}  // namespace

Deck::Deck(std::string title) : title_(std::move(title)) {}

std::string Deck::node(std::string_view id) {
  if (id == "earth" || id == "0") return "0";
  return fmt::format("n_{}", plain(id));
}

std::string Deck::number(double value) { return fmt::format("{:.9g}", value); }

void Deck::comment(std::string_view text) { lines_.push_back(fmt::format("* {}", text)); }
void Deck::line(std::string text) { lines_.push_back(std::move(text)); }

void Deck::resistor(std::string_view name, std::string_view a, std::string_view b, double ohm) {
  lines_.push_back(fmt::format("R{} {} {} {}", plain(name), node(a), node(b), number(ohm > 1e-4 ? ohm : 1e-4)));
}

void Deck::ammeter(std::string_view name, std::string_view a, std::string_view b) {
  lines_.push_back(fmt::format("V{} {} {} 0", plain(name), node(a), node(b)));
}

void Deck::measure(std::string_view name, std::string_view what) {
  lines_.push_back(fmt::format(".meas tran {} {}", plain(name), what));
}

std::string Deck::meter_volts(std::string_view name) { return fmt::format("v(q_{})", plain(name)); }

void Deck::meter(std::string_view name, std::string_view a, std::string_view b, double input_ohm,
                 double rise_time_second) {
  const std::string n = plain(name);
  lines_.push_back(fmt::format("Rm{} {} {} {}", n, node(a), node(b), number(input_ohm)));
  // The pole sits behind an ideal buffer, so that only the input resistance loads the circuit.
  lines_.push_back(fmt::format("Em{0} b_{0} 0 {1} {2} 1", n, node(a), node(b)));
  lines_.push_back(fmt::format("Rq{0} b_{0} q_{0} 1k", n));
  lines_.push_back(fmt::format("Cq{0} q_{0} 0 {1}", n, number(rise_time_second / 1e3)));
}

std::string Deck::text() const { return fmt::format("{}\n{}\n.end\n", title_, fmt::join(lines_, "\n")); }

}  // namespace lostspark::spice
