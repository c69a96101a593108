#include "job/units.hpp"

#include <array>

#include "job/words.hpp"

namespace lostspark::job {
namespace {

struct Base {
  std::string_view unit;  ///< as tests name it
  std::string_view measures;
  std::string_view names;  ///< accepted, blank-separated, lower case
  double per_test_unit;    ///< SI value of one test unit
};
constexpr std::array<Base, 5> k_bases{{
    {"volt", "voltage", "v volt volts vp vpk", 1},
    {"kilovolt", "voltage", "v volt volts vp vpk", 1000},
    {"ohm", "resistance", "ohm ohms r", 1},
    {"ampere", "current", "a amp amps ampere amperes", 1},
    {"rpm", "speed", "rpm revs turns", 1},
}};

const Base* base_of(std::string_view test_unit) {
  for (const auto& b : k_bases)
    if (b.unit == test_unit) return &b;
  return nullptr;
}

bool named(std::string_view names, std::string_view wanted) {
  std::size_t at = 0;
  while (at < names.size()) {
    const auto end = std::min(names.find(' ', at), names.size());
    if (names.substr(at, end - at) == wanted) return true;
    at = end + 1;
  }
  return false;
}

/// SI factor of a typed unit of this base, or empty.
std::optional<double> si_factor(std::string_view typed, const Base& base) {
  const std::string low = lowered(typed);
  if (named(base.names, low)) return 1.0;
  if (base.unit == "rpm") return std::nullopt;
  if (typed == "k" || typed == "K") return 1e3;
  if (typed == "M") return 1e6;
  if (typed == "m" && base.unit != "ohm") return 1e-3;  // of ohms, "m" may be meant as mega: refused
  if (low == "meg" || low == "mega") return 1e6;
  struct Prefix {
    std::string_view text;
    double factor;
  };
  for (const auto& p :
       {Prefix{"kilo", 1e3}, Prefix{"milli", 1e-3}, Prefix{"mega", 1e6}, Prefix{"meg", 1e6}, Prefix{"k", 1e3}})
    if (low.starts_with(p.text) && named(base.names, std::string_view(low).substr(p.text.size()))) return p.factor;
  // One letter m: milli, and M: mega. Volts and amperes never come in mega here, so "MV" is a slip of the shift key.
  if (low.size() > 1 && low[0] == 'm' && named(base.names, std::string_view(low).substr(1)))
    return typed[0] == 'M' && base.unit == "ohm" ? 1e6 : 1e-3;
  return std::nullopt;
}

}  // namespace

std::optional<double> unit_factor(std::string_view typed, std::string_view test_unit) {
  const Base* base = base_of(test_unit);
  if (base == nullptr) return std::nullopt;
  const auto si = si_factor(typed, *base);
  if (!si) return std::nullopt;
  return *si / base->per_test_unit;
}

std::string units_accepted(std::string_view test_unit) {
  if (test_unit == "volt") return "V, mV or kV";
  if (test_unit == "kilovolt") return "kV or V";
  if (test_unit == "ohm") return "ohm, k or M (mohm for thousandths)";
  if (test_unit == "ampere") return "A or mA";
  return std::string(test_unit);
}

std::string what_it_measures(std::string_view typed) {
  for (const auto& b : k_bases) {
    // A bare prefix is a unit of everything, so it says nothing.
    if (typed.size() == 1 && std::string_view("kKmM").find(typed[0]) != std::string_view::npos) return {};
    if (si_factor(typed, b)) return "a unit of " + std::string(b.measures);
  }
  return {};
}

}  // namespace lostspark::job
