// What all shops have learned from, counted on the server.
#include "history/outbox.hpp"

namespace lostspark::history {

void Outbox::each_pattern(const std::function<void(const PatternCount&)>& row) const {
  up_to_date().each(
      "SELECT family, vehicle, pattern, count(*) FROM cases WHERE superseded = 0 GROUP BY family, vehicle, pattern "
      "ORDER BY family, vehicle, pattern",
      {}, [&](const Server::Row& r) {
        row({r[0], r[1], r[2], std::stoll(r[3])});
      });
}

std::vector<ClassOdds> Outbox::class_odds() const {
  // Shops may have different editions of a network file: ours counts where we have it.
  std::vector<ClassOdds> out;
  for (const auto& r :
       up_to_date().rows("SELECT DISTINCT ON (vehicle, class) vehicle, family, class, odds FROM vehicle_classes "
                         "ORDER BY vehicle, class, shop <> $1, shop",
                         {shop_}))
    out.push_back({r[0], r[1], r[2], std::stod(r[3])});
  return out;
}

CaseSummary Outbox::case_summary() const {
  const auto r = up_to_date().rows(
      "SELECT count(*), count(*) FILTER (WHERE confirmed <> ''), count(*) FILTER (WHERE superseded "
      "= 1) FROM cases");
  return {std::stoll(r.at(0)[0]), std::stoll(r[0][1]), std::stoll(r[0][2])};
}

std::vector<std::pair<std::string, std::int64_t>> Outbox::replaced_for_nothing(const std::string& vehicle) const {
  std::vector<std::pair<std::string, std::int64_t>> out;
  for (const auto& r : up_to_date().rows(
           "SELECT component, count(*) FROM cases, unnest(string_to_array(for_nothing, ' ')) AS component WHERE "
           "($1 = '' OR vehicle = $1) AND superseded = 0 AND component <> '' GROUP BY component ORDER BY component "
           "COLLATE \"C\"",
           {vehicle}))
    out.emplace_back(r[0], std::stoll(r[1]));
  return out;
}

std::vector<Exposure> Outbox::exposures() const {
  std::vector<Exposure> out;
  for (const auto& r :
       up_to_date().rows("SELECT shop, vehicle, family, hours, at, note FROM exposures ORDER BY at, shop, number"))
    out.push_back({r[0], r[1], r[2], std::stod(r[3]), r[4], r[5]});
  return out;
}

std::vector<ShopSummary> Outbox::shops() const {
  std::vector<ShopSummary> out;
  for (const auto& r : up_to_date().rows(
           "SELECT name, (SELECT count(*) FROM jobs WHERE shop = name), (SELECT count(*) FROM cases WHERE shop = name) "
           "FROM shops ORDER BY name"))
    out.push_back({r[0], std::stoll(r[1]), std::stoll(r[2])});
  return out;
}

}  // namespace lostspark::history
