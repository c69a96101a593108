// workshop show: what the shop owns, and so what the program may ask for.
#include <CLI/CLI.hpp>
#include <ostream>

#include "faces/cli/context.hpp"
#include "faces/cli/json_out.hpp"
#include "faces/cli/text.hpp"
#include "job/reading_parser.hpp"

namespace lostspark::faces {

namespace {

std::string span_of(const model::Instrument& i) {
  if (i.unit == "word" || i.unit.empty()) return {};
  std::string text = "shows " + job::with_unit(i.floor, i.unit) + " to " + job::with_unit(i.range, i.unit);
  if (i.step > 0) text += " in steps of " + job::with_unit(i.step, i.unit);
  return text + ", right to about " + number(100 * i.accuracy_log_sd) + " %";
}

void show(Context& context) {
  const model::Workshop w = workshop_of(context);
  if (context.json) {
    Json instruments = Json::array();
    for (const auto& i : w.instruments)
      instruments.push_back({{"id", i.id},
                             {"title", i.title},
                             {"kind", i.kind},
                             {"unit", i.unit},
                             {"accuracy_log_sd", json_number(i.accuracy_log_sd)},
                             {"step", json_number(i.step)},
                             {"floor", json_number(i.floor)},
                             {"range", json_number(i.range)},
                             {"input_ohm", json_number(i.input_ohm)},
                             {"rise_time_second", json_number(i.rise_time_second)}});
    print_json(context, {{"workshop",
                          {{"title", w.title},
                           {"helper", w.helper},
                           {"labour_rate_per_hour", json_number(w.labour_rate_per_hour)},
                           {"check_min", json_number(w.check_min)},
                           {"refer_min", json_number(w.refer_min)},
                           {"comeback_min", json_number(w.comeback_min)},
                           {"instruments", instruments}}}});
    return;
  }
  context.out << w.title << '\n'
              << labelled("helper",
                          w.helper ? "somebody can crank" : "nobody to crank: tests that need two are left out")
              << labelled("rates", number(w.labour_rate_per_hour) + " an hour; a check after a repair " +
                                       minutes(w.check_min) + "; a comeback counts as " + minutes(w.comeback_min) +
                                       ", referring on as " + minutes(w.refer_min))
              << "\nInstruments\n";
  Table table;
  for (const auto& i : w.instruments) {
    const std::string span = span_of(i);
    table.row({i.id, span.empty() ? i.title : i.title + ": " + span});
  }
  context.out << table.text();
}

}  // namespace

void add_workshop_commands(CLI::App& app, Context& context) {
  CLI::App* group = app.add_subcommand("workshop", "what the shop owns");
  group->require_subcommand(1);
  CLI::App* show_command = group->add_subcommand("show", "instruments, helper, rates");
  add_json_option(*show_command, context);
  add_workshop_option(*show_command, context);
  show_command->callback([&context] { show(context); });
}

}  // namespace lostspark::faces
