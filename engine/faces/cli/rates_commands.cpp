// rates: what closed jobs say about the shares of faults and about minutes, and the sets made of it.
#include <CLI/CLI.hpp>
#include <algorithm>
#include <memory>
#include <ostream>

#include "base/error.hpp"
#include "faces/cli/files.hpp"
#include "faces/cli/json_out.hpp"
#include "faces/cli/number_checks.hpp"
#include "faces/cli/session.hpp"
#include "faces/cli/text.hpp"
#include "history/knowledge.hpp"
#include "job/memory.hpp"
#include "job/shares.hpp"

namespace lostspark::faces {

namespace {

std::string in_use(const history::Knowledge& knowledge) {
  const auto set = job::set_in_use(knowledge);
  return set ? set->name : "";
}

/// Below a hundredth nothing is worth its digits.
std::string coarse(double value) { return value > 0 && value < 0.01 ? "<0.01" : number(value); }
std::string share_text(double share) { return coarse(100 * share) + " %"; }

Json class_json(const learning::ClassShare& c) {
  return {{"class", c.name},
          {"file_share", json_number(c.file)},
          {"prior_share", json_number(c.centre)},
          {"faults", json_number(c.count)},
          {"confirmed_faults", json_number(c.confirmed)},
          {"learned_share", json_number(c.learned)},
          {"low_share", json_number(c.low)},
          {"high_share", json_number(c.high)}};
}

Json shares_json(const std::vector<learning::SharesOf>& all, const std::string& only) {
  Json rows = Json::array();
  for (const auto& of : all) {
    if (!only.empty() && of.name != only) continue;
    Json classes = Json::array();
    for (const auto& c : of.classes) classes.push_back(class_json(c));
    rows.push_back({{"id", of.name},
                    {"family", of.family},
                    {"faults", json_number(of.jobs)},
                    {"concentration", json_number(of.concentration)},
                    {"classes", classes}});
  }
  return rows;
}

std::string shares_page(const learning::SharesOf& of) {
  std::string page = of.name + ": " + number(of.jobs) + " faults counted\n";
  auto classes = of.classes;
  std::sort(classes.begin(), classes.end(), [](const auto& a, const auto& b) { return a.learned > b.learned; });
  Table table;
  table.row({"class", "file", "prior", "faults", "sure", "learned", "90 % interval"});
  for (const auto& c : classes)
    table.row({c.name, share_text(c.file), share_text(c.centre), coarse(c.count), number(c.confirmed),
               share_text(c.learned), share_text(c.low) + " .. " + share_text(c.high)});
  return page + table.text();
}

std::vector<job::MinuteView> minutes_about(const job::LearnedMinutes& learned, const model::Vehicle* only) {
  std::vector<job::MinuteView> out;
  for (const auto& r : learned.rows)
    if (only == nullptr || r.where == only->id || r.where == only->family) out.push_back(r);
  return out;
}

Json factor_json(const learning::MinuteFactor& f) {
  return {{"times", json_number(f.median)}, {"low_times", json_number(f.low)}, {"high_times", json_number(f.high)}};
}

Json minutes_json(const job::LearnedMinutes& learned, const model::Vehicle* only) {
  Json rows = Json::array();
  for (const auto& r : minutes_about(learned, only)) {
    Json row{{"of", r.where}, {"item", r.item}, {"steps", r.steps}};
    row.update(factor_json(r.factor));
    rows.push_back(std::move(row));
  }
  return {{"steps", learned.steps}, {"never_noted", factor_json(learned.never)}, {"items", rows}};
}

std::string minutes_page(const job::LearnedMinutes& learned, const model::Vehicle* only) {
  const auto rows = minutes_about(learned, only);
  if (rows.empty()) return "";
  const auto factor = [](const learning::MinuteFactor& f) {
    return std::vector<std::string>{number(f.median), number(f.low) + " .. " + number(f.high)};
  };
  Table table;
  table.row({"item", "of", "steps", "times", "90 % interval"});
  const auto line = [&](const std::string& item, const std::string& of, const std::string& steps,
                        const learning::MinuteFactor& f) {
    const auto words = factor(f);
    table.row({item, of, steps, words[0], words[1]});
  };
  for (const auto& r : rows) line(r.item, r.where, number(r.steps), r.factor);
  line("never noted", "all", "0", learned.never);
  return "\nMinutes taken, times those of the files (" +
         counted(static_cast<std::size_t>(learned.steps), "noted step") + ")\n" + table.text();
}

void show(Context& context, const std::string& vehicle, bool own) {
  Session session(context);
  auto& desk = session.desk();
  const auto caught = job::catch_up(desk);
  auto& knowledge = desk.store().knowledge();
  const auto& cases = session.cases(own);
  const auto summary = cases.case_summary();
  const auto learned = job::learn_shares(cases);
  const auto rates = job::learn_rates(cases, learned);
  const auto minutes = job::learn_minutes(knowledge);
  const auto about = vehicle.empty() ? nullptr : desk.vehicle(vehicle);
  const std::string only = about ? about->id : "";
  std::optional<job::AdviceEffect> effect;
  if (!only.empty() && (!learned.networks.empty() || !minutes.rows.empty()))
    effect = job::advice_effect(desk, vehicle, job::as_set(learned, minutes, "", desk.now(), ""));
  for (const auto& p : caught.problems) context.err << "lostspark: left out: " << p << '\n';
  const auto for_nothing = cases.replaced_for_nothing(only);
  if (context.json) {
    Json rate_rows = Json::array();
    for (const auto& r : rates)
      if (only.empty() || r.vehicle == only)
        rate_rows.push_back({{"vehicle", r.vehicle},
                             {"class", r.name},
                             {"faults", json_number(r.faults)},
                             {"hours", json_number(r.hours)},
                             {"per_thousand_hours", json_number(r.per_thousand_hours.mean)},
                             {"low_per_thousand_hours", json_number(r.per_thousand_hours.low)},
                             {"high_per_thousand_hours", json_number(r.per_thousand_hours.high)}});
    Json nothing = Json::array();
    for (const auto& [component, times] : for_nothing) nothing.push_back({{"component", component}, {"times", times}});
    Json document{{"set", in_use(knowledge).empty() ? Json() : Json(in_use(knowledge))},
                  {"cases", summary.cases},
                  {"confirmed_cases", summary.confirmed},
                  {"comebacks", summary.superseded},
                  {"networks", shares_json(learned.networks, only)},
                  {"families", only.empty() ? shares_json(learned.families, "") : Json::array()},
                  {"rates", rate_rows},
                  {"minutes", minutes_json(minutes, about.get())},
                  {"replaced_for_nothing", nothing},
                  {"problems", caught.problems}};
    if (effect)
      document["next_advice"] = {{"vehicle", effect->vehicle},
                                 {"complaint", effect->complaint},
                                 {"now", effect->now},
                                 {"then", effect->then},
                                 {"suspects_now", effect->suspects_now},
                                 {"suspects_then", effect->suspects_then}};
    print_json(context, document);
    return;
  }
  context.out << labelled("cases", counted(static_cast<std::size_t>(summary.cases), "closed job") + ", " +
                                       std::to_string(summary.confirmed) + " with a confirmed fault, " +
                                       std::to_string(summary.superseded) + " came back and count as the later job")
              << labelled("in use",
                          in_use(knowledge).empty() ? "the files' shares and minutes" : "set " + in_use(knowledge));
  if (learned.networks.empty() && minutes.rows.empty()) {
    context.out << wrapped("Nothing to learn from yet: close jobs with `lostspark job close`.", 2);
    return;
  }
  bool any = false;
  for (const auto& n : learned.networks)
    if (only.empty() || n.name == only) {
      any = true;
      context.out << '\n' << shares_page(n);
    }
  if (!any) context.out << '\n' << wrapped("No closed job of " + only + " yet; its family's shares would be used.", 2);
  if (only.empty())
    for (const auto& f : learned.families) context.out << "\nFamily " << shares_page(f);
  if (!rates.empty()) {
    context.out << "\nFaults in 1000 running hours\n";
    Table table;
    for (const auto& r : rates)
      if (only.empty() || r.vehicle == only)
        table.row({r.vehicle, r.name, number(r.faults) + " in " + number(r.hours) + " h",
                   number(r.per_thousand_hours.mean) + " (" + number(r.per_thousand_hours.low) + " .. " +
                       number(r.per_thousand_hours.high) + ")"});
    context.out << table.text();
  }
  if (!for_nothing.empty()) {
    context.out << "\nReplaced for nothing\n";
    Table table;
    for (const auto& [component, times] : for_nothing) table.row({component, std::to_string(times)});
    context.out << table.text();
  }
  context.out << minutes_page(minutes, about.get());
  if (effect) {
    context.out << "\nThe next job (" << effect->complaint << ", nothing read yet)\n"
                << labelled("now", sentence(effect->now) + "; suspects " + listed(effect->suspects_now))
                << labelled("then", sentence(effect->then) + "; suspects " + listed(effect->suspects_then));
  }
}

void apply_set(Context& context, const std::string& name, const std::string& note, bool own) {
  Session session(context);
  for (const auto& p : job::catch_up(session.desk()).problems) context.err << "lostspark: left out: " << p << '\n';
  const auto set = job::apply_shares(session.desk(), session.cases(own), name, note);
  if (context.json)
    print_json(context, {{"set", set.name}, {"made_at", set.made_at}, {"networks", set.networks.size()}});
  else
    context.out << "Jobs opened from now on use the set " << set.name << ", made " << set.made_at << ".\n";
}

void put_aside(Context& context) {
  Session session(context);
  const bool was = job::set_aside(session.desk());
  if (context.json)
    print_json(context, {{"set", Json()}, {"changed", was}});
  else
    context.out << (was ? "Jobs opened from now on use the files' shares and minutes.\n" : "No set is in use.\n");
}

void back(Context& context) {
  Session session(context);
  const auto set = job::roll_back(session.desk());
  if (context.json)
    print_json(context, {{"set", set ? Json(set->name) : Json()}});
  else
    context.out << "Jobs opened from now on use " << (set ? "the set " + set->name : "the files' shares and minutes")
                << ".\n";
}

void list(Context& context) {
  Session session(context);
  const auto& knowledge = session.desk().store().knowledge();
  const auto current = in_use(knowledge);
  if (context.json) {
    Json rows = Json::array(), events = Json::array();
    for (const auto& s : knowledge.rate_sets())
      rows.push_back({{"set", s.name}, {"made_at", s.made_at}, {"note", s.note}, {"in_use", s.name == current}});
    for (const auto& e : knowledge.rate_events())
      events.push_back({{"action", e.action}, {"set", e.name}, {"at", e.at}});
    print_json(context, {{"sets", rows}, {"events", events}});
    return;
  }
  Table table(0);
  for (const auto& s : knowledge.rate_sets())
    table.row({s.name, s.made_at, (s.name == current ? "in use" : "") + (s.note.empty() ? "" : " " + s.note)});
  context.out << (table.empty() ? "No set yet.\n" : table.text());
}

void export_set(Context& context, const std::string& name, const std::string& file) {
  Session session(context);
  const auto text = job::set_toml(job::named_set(session.desk().store().knowledge(), name));
  if (!file.empty()) write_text(file, text);
  if (context.json)
    print_json(context, {{"set", name}, {"file", file.empty() ? Json() : Json(file)}, {"toml", text}});
  else if (file.empty())
    context.out << text;
  else
    context.out << "Set " << name << " written to " << file << ".\n";
}

void import_set(Context& context, const std::string& file, const std::string& as) {
  Session session(context);
  auto set = job::set_from_toml(read_text(file), file);
  if (!as.empty()) set.name = as;
  job::import_set(session.desk(), set);
  if (context.json)
    print_json(context, {{"set", set.name}, {"in_use", false}});
  else
    context.out << "Set " << set.name << " stored; `lostspark rates apply " << set.name << "` uses it.\n";
}

void expose(Context& context, const std::string& vehicle, double hours, const std::string& note) {
  Session session(context);
  const auto v = session.desk().vehicle(vehicle);
  session.desk().store().knowledge().add_exposure({"", v->id, v->family, hours, session.desk().now(), note});
  if (context.json)
    print_json(context, {{"vehicle", v->id}, {"hours", json_number(hours)}});
  else
    context.out << number(hours) << " running hours of " << v->id << " recorded.\n";
}

}  // namespace

void add_rates_commands(CLI::App& app, Context& context) {
  CLI::App* group =
      app.add_subcommand("rates", "shares of faults and minutes learned from closed jobs, and the sets made of them");
  group->require_subcommand(1);
  struct Request {
    std::string vehicle, name, note, file;
    double hours = 0;
    bool own = false;
  };
  const auto r = std::make_shared<Request>();
  const auto command = [&](const char* name, const char* about) {
    CLI::App* c = group->add_subcommand(name, about);
    add_json_option(*c, context);
    add_store_option(*c, context);
    return c;
  };
  CLI::App* c = command(
      "show", "prior, evidence, learned shares and minutes, 90 % intervals; with a vehicle also the next advice");
  c->add_option("vehicle", r->vehicle, "id, or path of a network file")->type_name("VEHICLE");
  add_workshop_option(*c, context);
  const auto own_option = [r](CLI::App& of) {
    of.add_flag("--own", r->own, "count this shop's jobs alone, not those of a shared history");
  };
  own_option(*c);
  c->callback([&context, r] { show(context, r->vehicle, r->own); });

  c = command("apply", "use what was learned, as a named set; a name that exists is used again as it was made");
  c->add_option("name", r->name, "letters, digits, - and _")->required()->type_name("NAME");
  c->add_option("--note", r->note, "why")->type_name("TEXT");
  own_option(*c);
  c->callback([&context, r] { apply_set(context, r->name, r->note, r->own); });

  c = command("set-aside", "back to the files' shares and minutes");
  c->callback([&context] { put_aside(context); });
  c = command("rollback", "back to what was in use before the last change");
  c->callback([&context] { back(context); });
  c = command("list", "the sets and what was done with them");
  c->callback([&context] { list(context); });

  c = command("export", "a set as TOML, for another shop");
  c->add_option("name", r->name, "name of the set")->required()->type_name("NAME");
  c->add_option("--output", r->file, "write to this file instead of standard output")->type_name("FILE");
  c->callback([&context, r] { export_set(context, r->name, r->file); });
  c = command("import", "store a set from TOML; it is not used before it is applied");
  c->add_option("file", r->file, "TOML file")->required()->type_name("FILE");
  c->add_option("--as", r->name, "under this name")->type_name("NAME");
  c->callback([&context, r] { import_set(context, r->file, r->name); });

  c = command("exposure", "record running hours of vehicles of a kind in the shop's care");
  c->add_option("vehicle", r->vehicle, "id, or path of a network file")->required()->type_name("VEHICLE");
  c->add_option("hours", r->hours, "running hours, over all vehicles of the kind")
      ->required()
      ->check(above_zero())
      ->type_name("HOURS");
  c->add_option("--note", r->note, "which vehicles, which time")->type_name("TEXT");
  c->callback([&context, r] { expose(context, r->vehicle, r->hours, r->note); });

  group->footer(
      "Examples:\n"
      "  lostspark rates show quillmarsh_trail_125\n"
      "  lostspark rates apply spring_2026 --note 'after 60 jobs'\n"
      "  lostspark rates rollback\n"
      "  lostspark rates export spring_2026 --output spring_2026.toml\n");
}

}  // namespace lostspark::faces
