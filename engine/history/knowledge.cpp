#include "history/knowledge.hpp"

#include <map>

#include "base/error.hpp"

namespace lostspark::history {

namespace {

constexpr std::string_view k_reading = "read the job store";
constexpr std::string_view k_saving = "save to the job store";

constexpr std::string_view k_add_baseline =
    "INSERT INTO baselines (vehicle, family, test, unit, value, individual, condition, hookup, speed, instrument, "
    "read_at, note, source, job, sequence) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15)";

void add(Statement& statement, const Baseline& b) {
  Statement::Run(statement, k_saving)
      .bind(1, b.vehicle)
      .bind(2, b.family)
      .bind(3, b.test)
      .bind(4, b.unit)
      .bind(5, b.value)
      .bind(6, b.individual)
      .bind(7, b.condition)
      .bind(8, b.hookup)
      .bind(9, b.speed)
      .bind(10, b.instrument)
      .bind(11, b.read_at)
      .bind(12, b.note)
      .bind(13, b.source)
      .bind(14, b.job)
      .bind(15, b.sequence)
      .finish();
}

constexpr std::string_view k_case_columns =
    "SELECT shop, job, family, vehicle, pattern, confirmed, faults, for_nothing, closed_at, entries, superseded FROM "
    "cases ";

Case case_of(const Statement::Run& run) {
  return {run.text(0), run.text(1), run.text(2), run.text(3),   run.text(4),        run.text(5),
          run.text(6), run.text(7), run.text(8), run.number(9), run.number(10) != 0};
}

}  // namespace

void Knowledge::add_baselines(const std::vector<Baseline>& readings) {
  Transaction transaction(*connection_, k_saving);
  Statement insert(*connection_, k_add_baseline, k_saving);
  for (const auto& reading : readings) add(insert, reading);
  transaction.commit();
}

void Knowledge::take_from_job(const std::string& job, const std::vector<Baseline>& readings) {
  Transaction transaction(*connection_, k_saving);
  Statement remove(*connection_, "DELETE FROM baselines WHERE source = 'job' AND job = ?1 AND NOT struck", k_saving);
  Statement::Run(remove, k_saving).bind(1, job).finish();
  // What a person struck stays struck: its entry is there and keeps the place.
  Statement insert(*connection_, std::string(k_add_baseline) + " ON CONFLICT DO NOTHING", k_saving);
  for (const auto& reading : readings) add(insert, reading);
  transaction.commit();
}

std::vector<Baseline> Knowledge::baselines(const std::string& vehicle, bool with_struck) const {
  Statement select(*connection_,
                   "SELECT number, vehicle, family, test, unit, value, individual, condition, hookup, speed, "
                   "instrument, read_at, note, source, job, sequence, struck FROM baselines WHERE (?1 = '' OR vehicle "
                   "= ?1) AND (?2 OR NOT struck) ORDER BY number",
                   k_reading);
  Statement::Run run(select, k_reading);
  run.bind(1, vehicle).bind(2, std::int64_t{with_struck ? 1 : 0});
  std::vector<Baseline> out;
  while (run.row())
    out.push_back({run.number(0), run.text(1), run.text(2), run.text(3), run.text(4), run.real(5), run.text(6),
                   run.text(7), run.text(8), run.text(9), run.text(10), run.text(11), run.text(12), run.text(13),
                   run.text(14), run.number(15), run.number(16) != 0});
  return out;
}

bool Knowledge::strike_baseline(std::int64_t number) {
  Transaction transaction(*connection_, k_saving);
  Statement update(*connection_, "UPDATE baselines SET struck = 1 WHERE number = ?1 AND NOT struck", k_saving);
  Statement::Run(update, k_saving).bind(1, number).finish();
  const bool changed = sqlite3_changes(connection_->raw()) > 0;
  transaction.commit();
  return changed;
}

void Knowledge::take_minutes(const std::string& job, const std::vector<StepMinutes>& steps) {
  Transaction transaction(*connection_, k_saving);
  Statement remove(*connection_, "DELETE FROM step_minutes WHERE job = ?1", k_saving);
  Statement::Run(remove, k_saving).bind(1, job).finish();
  Statement insert(
      *connection_,
      "INSERT INTO step_minutes (job, sequence, family, vehicle, items, taken) VALUES (?1, ?2, ?3, ?4, ?5, "
      "?6)",
      k_saving);
  for (const auto& s : steps) {
    ensure(s.job == job, "minutes of another job");
    Statement::Run(insert, k_saving)
        .bind(1, s.job)
        .bind(2, s.sequence)
        .bind(3, s.family)
        .bind(4, s.vehicle)
        .bind(5, s.items)
        .bind(6, s.taken)
        .finish();
  }
  transaction.commit();
}

void Knowledge::each_step_minutes(const std::function<void(const StepMinutes&)>& row) const {
  Statement select(*connection_,
                   "SELECT job, sequence, family, vehicle, items, taken FROM step_minutes ORDER BY family, vehicle, "
                   "items, taken",
                   k_reading);
  Statement::Run run(select, k_reading);
  while (run.row()) row({run.text(0), run.number(1), run.text(2), run.text(3), run.text(4), run.real(5)});
}

void Knowledge::put_case(const Case& c, const std::vector<ClassOdds>& odds) {
  Transaction transaction(*connection_, k_saving);
  Statement insert(
      *connection_,
      "INSERT INTO cases (shop, job, family, vehicle, pattern, confirmed, faults, for_nothing, closed_at, "
      "entries, superseded) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, EXISTS (SELECT 1 FROM "
      "comebacks WHERE shop = ?1 AND first_job = ?2)) ON CONFLICT DO UPDATE SET pattern = excluded.pattern, "
      "confirmed = excluded.confirmed, faults = excluded.faults, for_nothing = excluded.for_nothing, "
      "closed_at = excluded.closed_at, entries = excluded.entries, superseded = excluded.superseded",
      k_saving);
  Statement::Run(insert, k_saving)
      .bind(1, c.shop)
      .bind(2, c.job)
      .bind(3, c.family)
      .bind(4, c.vehicle)
      .bind(5, c.pattern)
      .bind(6, c.confirmed)
      .bind(7, c.faults)
      .bind(8, c.for_nothing)
      .bind(9, c.closed_at)
      .bind(10, c.entries)
      .finish();
  Statement put(*connection_,
                "INSERT INTO vehicle_classes (vehicle, family, class, odds) VALUES (?1, ?2, ?3, ?4) ON CONFLICT DO "
                "UPDATE SET family = excluded.family, odds = excluded.odds",
                k_saving);
  for (const auto& o : odds)
    Statement::Run(put, k_saving).bind(1, o.vehicle).bind(2, o.family).bind(3, o.name).bind(4, o.odds).finish();
  transaction.commit();
}

std::optional<Case> Knowledge::find_case(const std::string& shop, const std::string& job) const {
  Statement select(*connection_, std::string(k_case_columns) + "WHERE shop = ?1 AND job = ?2", k_reading);
  Statement::Run run(select, k_reading);
  if (!run.bind(1, shop).bind(2, job).row()) return std::nullopt;
  return case_of(run);
}

void Knowledge::drop_case(const std::string& shop, const std::string& job) {
  Transaction transaction(*connection_, k_saving);
  Statement remove(*connection_, "DELETE FROM cases WHERE shop = ?1 AND job = ?2", k_saving);
  Statement::Run(remove, k_saving).bind(1, shop).bind(2, job).finish();
  transaction.commit();
}

std::vector<Case> Knowledge::cases(const std::string& vehicle) const {
  Statement select(*connection_, std::string(k_case_columns) + "WHERE ?1 = '' OR vehicle = ?1 ORDER BY shop, job",
                   k_reading);
  Statement::Run run(select, k_reading);
  run.bind(1, vehicle);
  std::vector<Case> out;
  while (run.row()) out.push_back(case_of(run));
  return out;
}

void Knowledge::each_pattern(const std::function<void(const PatternCount&)>& row) const {
  // Counted by the database as cases are written (schema, version 4), in the order of the key.
  Statement select(*connection_,
                   "SELECT family, vehicle, pattern, jobs FROM case_counts ORDER BY family, vehicle, pattern",
                   k_reading);
  Statement::Run run(select, k_reading);
  while (run.row()) row({run.text(0), run.text(1), run.text(2), run.number(3)});
}

std::vector<ClassOdds> Knowledge::class_odds() const {
  Statement select(*connection_, "SELECT vehicle, family, class, odds FROM vehicle_classes ORDER BY vehicle, class",
                   k_reading);
  Statement::Run run(select, k_reading);
  std::vector<ClassOdds> out;
  while (run.row()) out.push_back({run.text(0), run.text(1), run.text(2), run.real(3)});
  return out;
}

CaseSummary Knowledge::case_summary() const {
  Statement select(*connection_, "SELECT count(*), sum(confirmed <> ''), sum(superseded) FROM cases", k_reading);
  Statement::Run run(select, k_reading);
  ensure(run.row(), "an aggregate gave no row");
  return {run.number(0), run.number(1), run.number(2)};
}

std::vector<std::pair<std::string, std::int64_t>> Knowledge::replaced_for_nothing(const std::string& vehicle) const {
  // Cases name their components with blanks between: few different texts, split here.
  Statement select(*connection_,
                   "SELECT for_nothing, count(*) FROM cases WHERE for_nothing <> '' AND superseded = 0 AND (?1 = '' OR "
                   "vehicle = ?1) GROUP BY for_nothing",
                   k_reading);
  Statement::Run run(select, k_reading);
  run.bind(1, vehicle);
  std::map<std::string, std::int64_t> counts;
  while (run.row()) {
    const std::string words = run.text(0) + " ";
    for (std::size_t from = 0, blank = 0; (blank = words.find(' ', from)) != std::string::npos; from = blank + 1)
      if (blank > from) counts[words.substr(from, blank - from)] += run.number(1);
  }
  return {counts.begin(), counts.end()};
}

void Knowledge::link_comeback(const std::string& shop, const std::string& job, const std::string& first,
                              const std::string& at) {
  Transaction transaction(*connection_, k_saving);
  const auto before = came_back_from(shop, job);
  Statement insert(*connection_,
                   "INSERT INTO comebacks (shop, job, first_job, at) VALUES (?1, ?2, ?3, ?4) ON CONFLICT DO UPDATE SET "
                   "first_job = excluded.first_job, at = excluded.at",
                   k_saving);
  Statement::Run(insert, k_saving).bind(1, shop).bind(2, job).bind(3, first).bind(4, at).finish();
  // The job it is linked to now, and the one it was linked to by mistake.
  Statement update(*connection_,
                   "UPDATE cases SET superseded = EXISTS (SELECT 1 FROM comebacks c WHERE c.shop = cases.shop AND "
                   "c.first_job = cases.job) WHERE shop = ?1 AND job IN (?2, ?3)",
                   k_saving);
  Statement::Run(update, k_saving).bind(1, shop).bind(2, first).bind(3, before.value_or(first)).finish();
  transaction.commit();
}

std::optional<std::string> Knowledge::came_back_from(const std::string& shop, const std::string& job) const {
  Statement select(*connection_, "SELECT first_job FROM comebacks WHERE shop = ?1 AND job = ?2", k_reading);
  Statement::Run run(select, k_reading);
  if (!run.bind(1, shop).bind(2, job).row()) return std::nullopt;
  return run.text(0);
}

void Knowledge::add_exposure(const Exposure& e) {
  Transaction transaction(*connection_, k_saving);
  Statement insert(*connection_,
                   "INSERT INTO exposures (shop, vehicle, family, hours, at, note) VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
                   k_saving);
  Statement::Run(insert, k_saving)
      .bind(1, e.shop)
      .bind(2, e.vehicle)
      .bind(3, e.family)
      .bind(4, e.hours)
      .bind(5, e.at)
      .bind(6, e.note)
      .finish();
  transaction.commit();
}

std::vector<Exposure> Knowledge::exposures() const {
  Statement select(*connection_, "SELECT shop, vehicle, family, hours, at, note FROM exposures ORDER BY number",
                   k_reading);
  Statement::Run run(select, k_reading);
  std::vector<Exposure> out;
  while (run.row()) out.push_back({run.text(0), run.text(1), run.text(2), run.real(3), run.text(4), run.text(5)});
  return out;
}

bool Knowledge::add_rate_set(const RateSet& set, const std::optional<RateEvent>& event) {
  Transaction transaction(*connection_, k_saving);
  Statement insert(*connection_,
                   "INSERT INTO rate_sets (name, made_at, note, body) VALUES (?1, ?2, ?3, ?4) ON CONFLICT DO NOTHING",
                   k_saving);
  Statement::Run(insert, k_saving).bind(1, set.name).bind(2, set.made_at).bind(3, set.note).bind(4, set.body).finish();
  const bool added = sqlite3_changes(connection_->raw()) > 0;
  if (added && event) insert_event(*event);
  transaction.commit();
  return added;
}

std::optional<RateSet> Knowledge::rate_set(const std::string& name) const {
  Statement select(*connection_, "SELECT name, made_at, note, body FROM rate_sets WHERE name = ?1", k_reading);
  Statement::Run run(select, k_reading);
  if (!run.bind(1, name).row()) return std::nullopt;
  return RateSet{run.text(0), run.text(1), run.text(2), run.text(3)};
}

std::vector<RateSet> Knowledge::rate_sets() const {
  Statement select(*connection_, "SELECT name, made_at, note, body FROM rate_sets ORDER BY made_at, name", k_reading);
  Statement::Run run(select, k_reading);
  std::vector<RateSet> out;
  while (run.row()) out.push_back({run.text(0), run.text(1), run.text(2), run.text(3)});
  return out;
}

void Knowledge::add_rate_event(const RateEvent& event) {
  Transaction transaction(*connection_, k_saving);
  insert_event(event);
  transaction.commit();
}

void Knowledge::insert_event(const RateEvent& event) {
  Statement insert(*connection_, "INSERT INTO rate_events (action, name, at) VALUES (?1, ?2, ?3)", k_saving);
  Statement::Run(insert, k_saving).bind(1, event.action).bind(2, event.name).bind(3, event.at).finish();
}

std::vector<RateEvent> Knowledge::rate_events() const {
  Statement select(*connection_, "SELECT action, name, at FROM rate_events ORDER BY number", k_reading);
  Statement::Run run(select, k_reading);
  std::vector<RateEvent> out;
  while (run.row()) out.push_back({run.text(0), run.text(1), run.text(2)});
  return out;
}

void Knowledge::put_customer(const Customer& c) {
  // A name that is corrected must not stay in the free part of its page: delete_customer() would not find it there.
  connection_->execute("PRAGMA secure_delete = ON", k_saving);
  Transaction transaction(*connection_, k_saving);
  Statement insert(
      *connection_,
      "INSERT INTO customers (job, name, registration, noted_at) VALUES (?1, ?2, ?3, ?4) ON CONFLICT DO "
      "UPDATE SET name = excluded.name, registration = excluded.registration, noted_at = excluded.noted_at",
      k_saving);
  Statement::Run(insert, k_saving).bind(1, c.job).bind(2, c.name).bind(3, c.registration).bind(4, c.noted_at).finish();
  transaction.commit();
  connection_->execute("PRAGMA secure_delete = OFF", k_saving);
}

std::optional<Customer> Knowledge::customer(const std::string& job) const {
  Statement select(*connection_, "SELECT job, name, registration, noted_at FROM customers WHERE job = ?1", k_reading);
  Statement::Run run(select, k_reading);
  if (!run.bind(1, job).row()) return std::nullopt;
  return Customer{run.text(0), run.text(1), run.text(2), run.text(3)};
}

bool Knowledge::delete_customer(const std::string& job) {
  // Without secure_delete the bytes would stay in a free page; the log is emptied because it holds them too.
  connection_->execute("PRAGMA secure_delete = ON", k_saving);
  bool changed = false;
  {
    Transaction transaction(*connection_, k_saving);
    Statement remove(*connection_, "DELETE FROM customers WHERE job = ?1", k_saving);
    Statement::Run(remove, k_saving).bind(1, job).finish();
    changed = sqlite3_changes(connection_->raw()) > 0;
    transaction.commit();
  }
  connection_->execute("PRAGMA wal_checkpoint(TRUNCATE); PRAGMA secure_delete = OFF", k_saving);
  return changed;
}

}  // namespace lostspark::history
