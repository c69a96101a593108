// Short hands for filling a family's tables, shared by families and by the blocks that describe parts.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "lostspark_plugin.hpp"

namespace lostspark::blocks {

// ---------------------------------------------------------------------------------------------- visibility of a mode
// Provocations as bits. All probabilities: engineering judgement.
inline constexpr std::uint32_t k_hot = 1, k_wet = 2, k_shaken = 4, k_steering = 8, k_loaded = 16;

inline ls_visibility_v1 seen(double unprovoked, double provoked, std::uint32_t by) {
  const auto of = [&](std::uint32_t bit) { return (by & bit) != 0 ? provoked : unprovoked; };
  return {unprovoked, of(k_hot), of(k_wet), of(k_shaken), of(k_steering), of(k_loaded)};
}
/// A fault that is simply there.
inline constexpr ls_visibility_v1 k_constant{1, 1, 1, 1, 1, 1};
/// Seldom without the right provocation.
inline ls_visibility_v1 intermittent(std::uint32_t by) { return seen(0.1, 0.75, by); }
/// Volts and reserve are low all the time, the spark fails now and then.
inline ls_visibility_v1 wavering(std::uint32_t by) { return seen(0.35, 0.85, by); }
/// Mostly there, always when provoked.
inline ls_visibility_v1 mostly(std::uint32_t by) { return seen(0.9, 1.0, by); }

// ---------------------------------------------------------------------------------------------- modes and repairs
struct Change {
  std::string parameter;
  double mild, severe;
  std::int32_t operation = LS_SET;
};
inline Change scale(std::string parameter, double mild, double severe) {
  return {std::move(parameter), mild, severe, LS_SCALE};
}

/// Repairs and modes, component by component.
class ModeWriter {
 public:
  explicit ModeWriter(plugin::Tables& tables) : t_(tables) {}
  /// What follows belongs to this component.
  void of(std::string component) { component_ = std::move(component); }
  void repair(const char* id, const char* title, const char* kind, double minutes, double success, int price_class) {
    t_.add(ls_repair_v1{id, component_.c_str(), title, kind, minutes, success, price_class});
  }
  void mode(const char* id, const char* title, const char* repair, double share, ls_visibility_v1 visible,
            const std::vector<Change>& changes, const char* how, const char* group = "") {
    t_.add(ls_mode_v1{id, component_.c_str(), title, group, repair, share, visible, how});
    const std::string full = component_ + "." + id;
    for (const auto& c : changes)
      t_.add(ls_change_v1{full.c_str(), c.parameter.c_str(), c.operation, c.mild, c.severe});
  }

 private:
  plugin::Tables& t_;
  std::string component_;
};

// ---------------------------------------------------------------------------------------------- findings
/// Tests whose result is a word by a table over modes, kind by kind.
class FindingWriter {
 public:
  explicit FindingWriter(plugin::Tables& tables) : t_(tables) {}
  /// What follows belongs to this test kind; `first` is read where nothing is found, with probability `clear`.
  void kind(const std::string& id, const std::string& title, const std::string& subject, const char* instrument,
            const char* condition, double minutes, double mistaken, const std::string& place, const std::string& how,
            const char* cautions, const char* first, double clear) {
    id_ = id;
    t_.add(ls_test_kind_v1{.id = id.c_str(),
                           .title = title.c_str(),
                           .reads = LS_READS_FINDING,
                           .unit = "word",
                           .subject = subject.c_str(),
                           .condition = condition,
                           .instrument = instrument,
                           .minutes = minutes,
                           .mistaken = mistaken,
                           .place = place.c_str(),
                           .hook_up = how.c_str(),
                           .cautions = cautions});
    t_.add(ls_finding_v1{id.c_str(), "", first, clear});
  }
  void row(const std::string& mode, const std::string& word, double probability) {
    t_.add(ls_finding_v1{id_.c_str(), mode.c_str(), word.c_str(), probability});
  }

 private:
  plugin::Tables& t_;
  std::string id_;
};

// ---------------------------------------------------------------------------------------------- parts and parameters
inline constexpr std::uint32_t k_always = LS_IN_OHM_TESTS | LS_IN_RUNNING;

/// Parameters, components, terminals and plain resistances.
class PartWriter {
 public:
  explicit PartWriter(plugin::Tables& tables) : t_(tables) {}
  void parameter(const std::string& id, const char* unit, double typical, double log_sd, const char* description,
                 double event_log_sd = 0) {
    t_.add(ls_parameter_v1{.id = id.c_str(),
                           .unit = unit,
                           .description = description,
                           .typical = typical,
                           .log_sd = log_sd,
                           .event_log_sd = event_log_sd});
  }
  void part(const std::string& id, const char* title, const char* group, int price_class, bool stops = false,
            std::int32_t kind = LS_COMPONENT_PART) {
    t_.add(ls_component_v1{id.c_str(), title, group, kind, price_class, stops ? 1 : 0});
  }
  void terminal(const std::string& component, const char* id, const char* din, const char* title) {
    t_.add(ls_terminal_v1{component.c_str(), id, din, title});
  }
  void ohm(const std::string& id, const std::string& a, const std::string& b, const std::string& resistance,
           std::uint32_t used = k_always) {
    t_.add(ls_element_v1{.id = id.c_str(),
                         .terminal_a = a.c_str(),
                         .terminal_b = b.c_str(),
                         .resistance_ohm = resistance.c_str(),
                         .used_in = used});
  }
  /// Direct-current source: EMF (positive at a) behind a resistance.
  void source(const std::string& id, const std::string& a, const std::string& b, const std::string& emf,
              const std::string& resistance) {
    t_.add(ls_element_v1{.id = id.c_str(),
                         .terminal_a = a.c_str(),
                         .terminal_b = b.c_str(),
                         .resistance_ohm = resistance.c_str(),
                         .emf_volt = emf.c_str(),
                         .used_in = k_always});
  }
  /// A part that is nothing but one contact in a line: fuse, switch, relay contact.
  void contact(const std::string& id, const char* title, const char* group, int price_class, bool stops,
               const char* in_din, const char* out_din, const std::string& resistance, double typical) {
    part(id, title, group, price_class, stops);
    terminal(id, "in", in_din, "supply side");
    terminal(id, "out", out_din, "load side");
    parameter(resistance, "ohm", typical, 0.3, title);
    ohm(id + "_contact", id + ".in", id + ".out", resistance);
  }
  plugin::Tables& tables() { return t_; }

 private:
  plugin::Tables& t_;
};

inline void effect(plugin::Tables& t, const char* owner, std::int32_t operation, const char* target, double value) {
  ls_effect_v1 row{};
  row.owner = owner;
  row.operation = operation;
  row.target = target;
  row.value = value;
  t.add(row);
}

}  // namespace lostspark::blocks
