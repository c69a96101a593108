#include "sources/toml_section.hpp"

#include <algorithm>
#include <cmath>

#include "base/error.hpp"
#include "sources/text.hpp"

namespace lostspark::sources {
namespace {

const char* kind_of(const toml::node& node) {
  if (node.is_string()) return "a text";
  if (node.is_boolean()) return "true or false";
  if (node.is_number()) return "a number";
  if (node.is_table()) return "a table";
  if (node.is_array()) return "a list";
  return "a date or time";
}

}  // namespace

Spot spot_of(const toml::source_region& region) { return {region.begin.line, region.begin.column}; }
Spot spot_of(const toml::node& node) { return spot_of(node.source()); }

Section::Section(const toml::table& table, std::string path, const SectionKeys& keys, Mistakes& mistakes)
    : table_(table), path_(std::move(path)), spot_(sources::spot_of(table)), keys_(keys), mistakes_(mistakes) {}

std::string Section::path_of(const std::string& key) const { return path_.empty() ? key : path_ + "." + key; }

bool Section::has(const char* key) const { return table_.contains(key); }

Spot Section::spot_of_key(const char* key) const {
  for (auto&& [name, node] : table_)
    if (name.str() == key) return sources::spot_of(name.source());
  return spot_;
}

void Section::mistake(const char* key, const std::string& message) const {
  mistakes_.add(spot_of_key(key), path_of(key), message);
}

const toml::node* Section::get(const char* key) {
  const bool known =
      std::any_of(keys_.keys.begin(), keys_.keys.end(), [&](const Key& k) { return std::string_view(k.name) == key; });
  ensure(known, "a reader asks for a key that is not in its table of keys");
  return table_.get(key);
}

const toml::node* Section::node(const char* key) { return get(key); }

std::string Section::text(const char* key, const std::string& fallback) {
  const auto* node = get(key);
  if (node == nullptr) return fallback;
  if (const auto value = node->value_exact<std::string>()) return *value;
  mistake(key, std::string("expected a text in quotes, found ") + kind_of(*node));
  return fallback;
}

Said Section::identifier(const char* key) {
  const auto* node = get(key);
  Said said{"", spot_of_key(key)};
  if (node == nullptr) return said;
  said.text = text(key);
  if (node->is_string() && !is_identifier(said.text)) {
    mistake(key, "'" + said.text + "' is no identifier: expected lower_snake_case, up to 64 letters, digits and _");
    said.text.clear();
  }
  return said;
}

double Section::number(const char* key, double fallback, double least, double most) {
  const auto* node = get(key);
  if (node == nullptr) return fallback;
  const auto value = node->is_number() ? node->value<double>() : std::nullopt;
  std::string unit;
  for (const auto& k : keys_.keys)
    if (std::string_view(k.name) == key) unit = k.unit;
  const auto expected = "expected a number (" + unit + ") " +
                        (most < 1e9 ? "from " + number_text(least) + " to " + number_text(most)
                                    : "of " + number_text(least) + " or more");
  if (!value) {
    mistake(key, expected + ", found " + kind_of(*node));
    return fallback;
  }
  if (!std::isfinite(*value) || *value < least || *value > most) {
    mistake(key, expected + ", found " + number_text(*value));
    return fallback;
  }
  return *value;
}

bool Section::flag(const char* key, bool fallback) {
  const auto* node = get(key);
  if (node == nullptr) return fallback;
  if (const auto value = node->value_exact<bool>()) return *value;
  mistake(key, std::string("expected true or false, found ") + kind_of(*node));
  return fallback;
}

std::vector<Said> Section::list(const char* key) {
  std::vector<Said> said;
  const auto* node = get(key);
  if (node == nullptr) return said;
  const auto* array = node->as_array();
  if (array == nullptr) {
    mistake(key, std::string("expected a list [\"...\", \"...\"], found ") + kind_of(*node));
    return said;
  }
  for (const auto& item : *array) {
    if (const auto value = item.value_exact<std::string>())
      said.push_back({*value, sources::spot_of(item)});
    else
      mistakes_.add(sources::spot_of(item), path_of(key), std::string("expected texts, found ") + kind_of(item));
  }
  return said;
}

std::string Section::choice(const char* key, const std::string& fallback, std::span<const std::string> valid) {
  if (!has(key)) return fallback;
  const auto value = text(key, fallback);
  if (std::find(valid.begin(), valid.end(), value) != valid.end()) return value;
  if (get(key)->is_string())
    mistake(
        key, "expected one of " + join(valid, ", ") + ", found '" + value + "'" + [&] {
          const auto near = nearest(value, valid);
          return near ? "; did you mean '" + *near + "'?" : std::string();
        }());
  return fallback;
}

void Section::finish() {
  const auto names = keys_.names();
  if (!keys_.open)
    for (auto&& [name, node] : table_)
      if (std::find(names.begin(), names.end(), name.str()) == names.end() && !allowed_.contains(name.str())) {
        const std::string key(name.str());
        mistakes_.add(sources::spot_of(name.source()), path_of(key), "unknown key" + suggestion(key, names));
      }
  for (const auto& key : keys_.keys)
    if (key.required() && !has(key.name))
      mistakes_.add(spot_, path_of(key.name), std::string("is missing: expected ") + key.unit + ", " + key.meaning);
}

toml::table parse_toml(const std::string& text, Mistakes& mistakes) {
  toml::table file;
  try {
    file = toml::parse(text, mistakes.file());
  } catch (const toml::parse_error& error) {
    mistakes.add(spot_of(error.source()), "", "not valid TOML: " + std::string(error.description()));
    mistakes.throw_if_any();
  }
  const auto* format = file.get("format");
  if (format == nullptr)
    mistakes.add({1, 1}, "format", "is missing: expected format = 1 as the first line");
  else if (format->value_exact<std::int64_t>() != 1)
    mistakes.add(spot_of(*format), "format", "expected 1: this program reads files of format 1");
  return file;
}

void check_sections(const toml::table& file, std::span<const SectionKeys> sections, Mistakes& mistakes) {
  std::vector<std::string> names;
  for (const auto& section : sections) names.emplace_back(section.name);
  for (auto&& [name, node] : file) {
    const std::string key(name.str());
    if (key == "format") continue;
    const auto found = std::find(names.begin(), names.end(), key);
    if (found == names.end()) {
      auto expected = std::string("unknown key");
      if (const auto near = nearest(key, names)) expected += "; did you mean '" + *near + "'?";
      mistakes.add(spot_of(name.source()), key, expected);
      continue;
    }
    const auto& section = sections[static_cast<std::size_t>(found - names.begin())];
    const bool tables = node.is_array() && node.as_array()->is_homogeneous(toml::node_type::table);
    if (section.many && !tables)
      mistakes.add(spot_of(node), key, "expected a list of tables: write [[" + key + "]] above each");
    if (!section.many && !node.is_table()) mistakes.add(spot_of(node), key, "expected one table: [" + key + "]");
  }
}

}  // namespace lostspark::sources
