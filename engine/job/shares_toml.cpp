// Sets of shares and minutes as TOML, for another shop.
#include <toml++/toml.h>

#include <cmath>
#include <sstream>

#include "base/error.hpp"
#include "job/shares.hpp"
#include "job/words.hpp"

namespace lostspark::job {
namespace {

std::string quoted(const std::string& text) {
  std::ostringstream out;
  out << toml::value<std::string>(text);
  return out.str();
}

void print(std::string& out, const char* kind, const std::map<std::string, ShareSet::Network>& rows) {
  for (const auto& [id, n] : rows) {
    out += std::string("\n[[") + kind + "]]\nid = " + quoted(id) + "\nfamily = " + quoted(n.family) +
           "\nfaults = " + exact(n.faults) + "\n[" + kind + ".factors]\n";
    for (const auto& [name, factor] : n.factors) out += quoted(name) + " = " + exact(factor) + "\n";
  }
}

void print(std::string& out, const char* kind, const std::map<std::string, MinuteSet::Factors>& rows) {
  for (const auto& [id, factors] : rows) {
    out += "\n[minutes." + std::string(kind) + "." + quoted(id) + "]\n";
    for (const auto& [item, factor] : factors) out += quoted(item) + " = " + exact(factor) + "\n";
  }
}

}  // namespace

std::string set_toml(const ShareSet& set) {
  std::string out =
      "# Learned shares of faults: how many times more often than the files say (docs/learning.md).\nformat = 1\nname "
      "= " +
      quoted(set.name) + "\nmade_at = " + quoted(set.made_at) + "\nnote = " + quoted(set.note) + "\n";
  print(out, "network", set.networks);
  print(out, "family", set.families);
  if (!set.minutes.empty()) {
    out += "\n# How many times longer than the files say steps take; all: what was never noted.\n[minutes]\nall = " +
           exact(set.minutes.all) + "\n";
    print(out, "network", set.minutes.networks);
    print(out, "family", set.minutes.families);
  }
  return out;
}

ShareSet set_from_toml(const std::string& text, const std::string& file) {
  toml::table root;
  try {
    root = toml::parse(text);
  } catch (const toml::parse_error& e) {
    const auto& at = e.source().begin;
    throw InputError(file + ", line " + std::to_string(at.line) + ", column " + std::to_string(at.column) + ": " +
                     std::string(e.description()));
  }
  const auto fail = [&](const std::string& what) { throw InputError(file + ": " + what); };
  if (root["format"].value_or(0) != 1) fail("format: expected 1 (a set exported by `lostspark rates export`)");
  ShareSet set;
  set.name = root["name"].value_or(std::string());
  if (set.name.empty()) fail("name: is missing");
  set.made_at = root["made_at"].value_or(std::string());
  set.note = root["note"].value_or(std::string());
  const auto read = [&](const char* kind, std::map<std::string, ShareSet::Network>& rows) {
    const auto* list = root[kind].as_array();
    if (list == nullptr) return;
    for (std::size_t i = 0; i < list->size(); ++i) {
      const std::string path = std::string(kind) + "[" + std::to_string(i + 1) + "]";
      const auto* row = list->get(i)->as_table();
      const auto* factors = row != nullptr ? (*row)["factors"].as_table() : nullptr;
      if (factors == nullptr) fail(path + ": expected a table with id, family, faults and factors");
      ShareSet::Network n{(*row)["family"].value_or(std::string()), (*row)["faults"].value_or(0.0), {}};
      const auto id = (*row)["id"].value_or(std::string());
      if (id.empty()) fail(path + ".id: is missing");
      for (const auto& [key, value] : *factors) {
        const auto factor = value.value<double>();
        if (!factor || !std::isfinite(*factor) || *factor < 0 || *factor > 1e6)
          fail(path + ".factors." + std::string(key.str()) + ": expected a number from 0 to 1000000");
        n.factors[std::string(key.str())] = *factor;
      }
      rows[id] = std::move(n);
    }
  };
  read("network", set.networks);
  read("family", set.families);
  const auto minute_factor = [&](const std::string& path, const auto& value) {
    const auto factor = value.template value<double>();
    if (!factor || !std::isfinite(*factor) || *factor < 0.01 || *factor > 100)
      fail(path + ": expected a number from 0.01 to 100");
    return *factor;
  };
  if (root.contains("minutes")) {
    const auto minutes = root["minutes"];
    if (!minutes.is_table()) fail("minutes: expected a table with all, network and family");
    if (minutes["all"]) set.minutes.all = minute_factor("minutes.all", minutes["all"]);
    const auto read_minutes = [&](const char* kind, std::map<std::string, MinuteSet::Factors>& rows) {
      const auto* table = minutes[kind].as_table();
      if (table == nullptr) return;
      for (const auto& [id, items] : *table) {
        const std::string path = std::string("minutes.") + kind + "." + std::string(id.str());
        const auto* row = items.as_table();
        if (row == nullptr) fail(path + ": expected a table of items");
        for (const auto& [item, value] : *row)
          rows[std::string(id.str())][std::string(item.str())] =
              minute_factor(path + "." + std::string(item.str()), value);
      }
    };
    read_minutes("network", set.minutes.networks);
    read_minutes("family", set.minutes.families);
  }
  if (set.networks.empty() && set.families.empty() && set.minutes.empty())
    fail("it holds no network, no family and no minutes");
  return set;
}

}  // namespace lostspark::job
