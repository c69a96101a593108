// baseline: what healthy vehicles of a kind read at this shop.
#include <CLI/CLI.hpp>
#include <algorithm>
#include <memory>
#include <ostream>

#include "base/error.hpp"
#include "faces/cli/files.hpp"
#include "faces/cli/json_out.hpp"
#include "faces/cli/negative.hpp"
#include "faces/cli/session.hpp"
#include "faces/cli/text.hpp"
#include "history/knowledge.hpp"
#include "job/memory.hpp"
#include "job/reading_parser.hpp"

namespace lostspark::faces {

namespace {

Json baseline_json(const history::Baseline& b) {
  return {{"number", b.number},       {"vehicle", b.vehicle},
          {"test", b.test},           {"value", json_number(b.value)},
          {"unit", b.unit},           {"individual", b.individual},
          {"condition", b.condition}, {"hookup", b.hookup},
          {"speed", b.speed},         {"instrument", b.instrument},
          {"read_at", b.read_at},     {"note", b.note},
          {"source", b.source},       {"job", b.job},
          {"struck", b.struck}};
}

std::string band_text(const job::HealthyView& b) {
  return job::with_unit(b.low, b.unit) + " .. " + job::with_unit(b.high, b.unit);
}

std::string stated_text(const job::HealthyView& b) {
  if (b.stated_origin.empty()) return {};
  return b.stated_origin + " says " + job::stated_range(b) + (b.stated_note.empty() ? "" : " (" + b.stated_note + ")");
}

void record(Context& context, const std::string& vehicle, const std::string& test,
            const std::vector<std::string>& words, const job::BaselineNote& note) {
  Session session(context);
  std::string typed;
  for (const auto& w : words) typed += (typed.empty() ? "" : " ") + unguarded(w);
  const auto b = job::record_baseline(session.desk(), vehicle, test, typed, note);
  if (context.json)
    print_json(context, {{"reading", baseline_json(b)}});
  else
    context.out << b.number << ". recorded as healthy: " << b.test << ' ' << job::with_unit(b.value, b.unit) << '\n';
}

void list(Context& context, const std::string& vehicle, bool struck) {
  Session session(context);
  const auto id = vehicle.empty() ? std::string() : session.desk().vehicle(vehicle)->id;
  const auto all = session.desk().store().knowledge().baselines(id, struck);
  if (context.json) {
    Json rows = Json::array();
    for (const auto& b : all) rows.push_back(baseline_json(b));
    print_json(context, {{"readings", rows}});
    return;
  }
  if (all.empty()) {
    context.out << "No healthy reading yet.\n";
    return;
  }
  Table table(0);
  for (const auto& b : all) {
    std::string about = b.source == "job" ? "job " + b.job : b.source;
    for (const auto* text : {&b.individual, &b.condition, &b.hookup, &b.speed, &b.instrument, &b.note})
      if (!text->empty()) about += ", " + *text;
    table.row({std::to_string(b.number) + ".", job::with_unit(b.value, b.unit), b.read_at,
               b.test + " (" + about + ")" + (b.struck ? " (struck)" : "")});
  }
  context.out << table.text();
}

void show_bands(Context& context, const std::string& vehicle) {
  Session session(context);
  const auto all = job::bands(session.desk(), vehicle);
  if (context.json) {
    Json rows = Json::array();
    for (const auto& b : all) {
      Json row{{"test", b.test_id},
               {"title", b.title},
               {"unit", b.unit},
               {"low", json_number(b.low)},
               {"median", json_number(b.median)},
               {"high", json_number(b.high)},
               {"origin", b.origin},
               {"readings", b.readings}};
      if (!b.stated_origin.empty())
        row["stated"] = {{"low", b.stated_low > 0 ? json_number(b.stated_low) : Json()},
                         {"high", b.stated_high > 0 ? json_number(b.stated_high) : Json()},
                         {"origin", b.stated_origin},
                         {"note", b.stated_note}};
      if (!b.contradiction.empty()) row["contradiction"] = b.contradiction;
      rows.push_back(std::move(row));
    }
    print_json(context, {{"vehicle", session.desk().vehicle(vehicle)->id}, {"bands", rows}});
    return;
  }
  context.out << "90 of 100 healthy readings lie in these bands\n";
  for (const auto& b : all) {
    context.out << wrapped(sentence(b.title), 2);
    context.out << labelled("", b.test_id, 2, 4);
    context.out << labelled("band", band_text(b) + ", from: " + b.origin, 4);
    if (const auto stated = stated_text(b); !stated.empty()) context.out << labelled("stated", stated, 4);
    if (!b.contradiction.empty()) context.out << labelled("mind", b.contradiction, 4);
  }
}

void sheet(Context& context, const std::string& vehicle, bool csv) {
  Session session(context);
  if (context.json)
    print_json(context, {{"vehicle", session.desk().vehicle(vehicle)->id},
                         {"sheet", job::baseline_sheet(session.desk(), vehicle)},
                         {"csv", job::baseline_csv(session.desk(), vehicle)}});
  else
    context.out << (csv ? job::baseline_csv(session.desk(), vehicle) : job::baseline_sheet(session.desk(), vehicle));
}

void import(Context& context, const std::string& vehicle, const std::string& file) {
  Session session(context);
  const auto count = job::import_baselines(session.desk(), vehicle, read_text(file), file);
  if (context.json)
    print_json(context, {{"vehicle", session.desk().vehicle(vehicle)->id}, {"imported", count}});
  else
    context.out << counted(count, "healthy reading") << " stored.\n";
}

void take(Context& context, const std::string& id) {
  Session session(context);
  std::size_t jobs = 0, readings = 0;
  std::vector<std::string> problems;
  if (id.empty()) {
    const auto done = job::catch_up(session.desk());
    problems = done.problems;
  } else {
    const auto job = session.desk().load(id);
    if (!job::remember(session.desk(), job))
      throw InputError("job " + id + " is not closed: healthy readings are those after a repair that passed its check");
  }
  for (const auto& b : session.desk().store().knowledge().baselines(""))
    if (b.source == "job" && (id.empty() || b.job == id)) ++readings;
  jobs = id.empty() ? static_cast<std::size_t>(session.desk().store().knowledge().case_summary().cases) : 1;
  for (const auto& p : problems) context.err << "lostspark: left out: " << p << '\n';
  if (context.json)
    print_json(context, {{"jobs", jobs}, {"readings", readings}, {"problems", problems}});
  else
    context.out << counted(readings, "healthy reading") << " from " << counted(jobs, "closed job") << ".\n";
}

void strike(Context& context, std::int64_t number) {
  Session session(context);
  if (!session.desk().store().knowledge().strike_baseline(number))
    throw InputError("there is no healthy reading " + std::to_string(number) +
                     " in force; `lostspark baseline list` shows them");
  if (context.json)
    print_json(context, {{"struck", number}});
  else
    context.out << "Reading " << number << " does not count any more.\n";
}

}  // namespace

void add_baseline_commands(CLI::App& app, Context& context) {
  CLI::App* group = app.add_subcommand("baseline", "what healthy vehicles of a kind read at this shop");
  group->require_subcommand(1);
  struct Request {
    std::string vehicle, test, file, job;
    std::vector<std::string> value;
    job::BaselineNote note;
    bool struck = false, csv = false;
    std::int64_t number = 0;
  };
  const auto r = std::make_shared<Request>();
  const auto with_vehicle = [&](CLI::App* command, bool required = true) {
    auto* option = command->add_option("vehicle", r->vehicle, "id, or path of a network file")->type_name("VEHICLE");
    if (required) option->required();
    add_json_option(*command, context);
    add_store_option(*command, context);
    add_workshop_option(*command, context);
    return command;
  };

  CLI::App* c = with_vehicle(group->add_subcommand("record", "record one reading of a healthy vehicle"));
  c->add_option("test", r->test, "id of the test")->required()->type_name("TEST");
  c->add_option("value", r->value, "as people say it: 168, 0.17kV, 150 170 165")->required()->type_name("VALUE");
  c->add_option("--individual", r->note.individual, "which vehicle it was: readings with the same word belong together")
      ->type_name("WORD");
  c->add_option("--condition", r->note.condition, "cold, hot, wet ...")->type_name("TEXT");
  c->add_option("--hookup", r->note.hookup, "how the meter was connected")->type_name("TEXT");
  c->add_option("--speed", r->note.speed, "kick, crank, rpm")->type_name("TEXT");
  c->add_option("--instrument", r->note.instrument, "which meter")->type_name("ID");
  c->add_option("--date", r->note.read_at, "when (now)")->type_name("DATE");
  c->add_option("--note", r->note.note, "anything else")->type_name("TEXT");
  c->callback([&context, r] { record(context, r->vehicle, r->test, r->value, r->note); });

  c = with_vehicle(group->add_subcommand("list", "the healthy readings recorded so far"), false);
  c->add_flag("--struck", r->struck, "those that do not count any more too");
  c->callback([&context, r] { list(context, r->vehicle, r->struck); });

  c = with_vehicle(group->add_subcommand("bands", "healthy band of every number test, and where it comes from"));
  c->callback([&context, r] { show_bands(context, r->vehicle); });

  c = with_vehicle(group->add_subcommand("sheet", "a sheet to fill in at the bench, blank where nothing is known"));
  c->add_flag("--csv", r->csv, "as CSV, for `baseline import`");
  c->callback([&context, r] { sheet(context, r->vehicle, r->csv); });

  c = with_vehicle(
      group->add_subcommand("import", "readings from a filled-in CSV sheet; rows without a value are passed over"));
  c->add_option("file", r->file, "CSV file")->required()->type_name("FILE");
  c->callback([&context, r] { import(context, r->vehicle, r->file); });

  c = group->add_subcommand("take", "all readings made after a repair that passed its check, from closed jobs");
  c->add_option("job", r->job, "only this job")->type_name("JOB");
  add_json_option(*c, context);
  add_store_option(*c, context);
  c->callback([&context, r] { take(context, r->job); });

  c = group->add_subcommand("strike", "a reading does not count any more");
  c->add_option("number", r->number, "its number in `baseline list`")->required()->type_name("N");
  add_json_option(*c, context);
  add_store_option(*c, context);
  c->callback([&context, r] { strike(context, r->number); });

  group->footer(
      "Examples:\n"
      "  lostspark baseline record quillmarsh_trail_125 TEST 212 --individual 'blue one' --condition cold\n"
      "  lostspark baseline sheet quillmarsh_trail_125 --csv > sheet.csv\n"
      "  lostspark baseline import quillmarsh_trail_125 sheet.csv\n"
      "  lostspark baseline bands quillmarsh_trail_125\n");
}

}  // namespace lostspark::faces
