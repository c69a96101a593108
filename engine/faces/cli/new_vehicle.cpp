#include "faces/cli/new_vehicle.hpp"

#include <unistd.h>

#include <CLI/CLI.hpp>
#include <filesystem>
#include <iostream>
#include <memory>

#include "base/error.hpp"
#include "faces/cli/context.hpp"
#include "faces/cli/files.hpp"
#include "faces/cli/json_out.hpp"
#include "faces/cli/new_vehicle_questions.hpp"
#include "faces/cli/text.hpp"
#include "sources/text.hpp"

namespace lostspark::faces {

namespace {

struct NewRequest {
  std::string id, title, family, output;
  std::vector<std::string> seen, options, places;
};

Json document_of(const job::Seen& seen, const job::Identification& found) {
  Json families = Json::array(), signs = Json::array(), warnings = Json::array(), answers = Json::object();
  for (const auto& f : found.families)
    families.push_back({{"family", f.id},
                        {"title", f.title},
                        {"probability", json_number(f.probability)},
                        {"installed", f.installed}});
  for (const auto& s : found.signs) signs.push_back({{"sign", s.sign}, {"gain_bits", json_number(s.gain_bits)}});
  for (const auto* w : found.warnings)
    warnings.push_back({{"id", w->id}, {"text", w->text}, {"harms", w->harms}, {"caution", w->note}});
  for (const auto& q : job::sign_questions())
    if (const auto answer = job::answer_of(seen, q.id); !answer.empty()) answers[q.id] = answer;
  return {{"seen", answers}, {"families", families}, {"signs", signs}, {"warnings", warnings}};
}

void check_free(const std::string& file) {
  std::error_code code;
  if (!file.empty() && std::filesystem::exists(file, code))
    throw InputError(file + ": is there already; name another file with --output");
}

/// The family to write where nobody is asked. Throws InputError while it is open.
std::string decided(const job::Identification& found) {
  const auto& first = found.families.front();
  if (first.probability >= job::k_family_written) return first.id;
  std::string message = "the family is not certain: " + first.id + " " + percent(first.probability) + ", " +
                        found.families[1].id + " " + percent(found.families[1].probability);
  if (!found.signs.empty()) {
    const auto best = std::max_element(found.signs.begin(), found.signs.end(),
                                       [](const auto& a, const auto& b) { return a.gain_bits < b.gain_bits; });
    message += "; the sign '" + best->sign + "' would tell most (--seen " + best->sign + "=...)";
  }
  throw InputError(message + "; or name it with --family");
}

/// Writes the file once the program itself has read it without a mistake. Returns its path.
std::string write(Context& context, const job::Seen& seen, const job::NewVehicle& vehicle, std::string file) {
  if (file.empty()) file = vehicle.id + ".toml";
  check_free(file);
  const auto text = sources::draft_network(context.folders, job::draft_of(context.folders, seen, vehicle));
  const auto read = sources::load_vehicle_text(context.folders, text, file);
  write_text(file, text);
  if (!context.json) {
    if (job::open_family(seen))
      context.out << '\n'
                  << wrapped("The family is not certain: the head of the file says what to leave alone until it is.");
    context.out << "\nWritten: " << file << " (" << counted(read->components.size(), "component") << ", "
                << counted(read->tests.size(), "test") << ").\n"
                << wrapped(
                       "Every value in it is the family's with a wider spread; covers, minutes and places are those of "
                       "a usual machine. Edit it, and let the program read it again:")
                << "  lostspark vehicle check " << file << "\n  lostspark trace " << file << '\n'
                << wrapped("In a network folder (docs/network-files.md) it goes by its id, " + vehicle.id + ".");
  }
  return file;
}

std::vector<std::string> installed_families(Context& context) {
  std::vector<std::string> problems, ids;
  for (const auto& f : sources::list_families(context.folders, problems)) ids.push_back(f.id);
  for (const std::string& problem : problems) context.err << "lostspark: left out: " << problem << '\n';
  return ids;
}

job::NewVehicle vehicle_of(const NewRequest& request) {
  job::NewVehicle vehicle;
  vehicle.id = request.id;
  vehicle.title = request.title;
  vehicle.family = request.family;
  for (const auto& told : request.options) vehicle.options.push_back(job::option_told(told));
  for (const auto& told : request.places) vehicle.elsewhere.push_back(job::placed(told));
  return vehicle;
}

void name(job::NewVehicle& vehicle) {
  if (vehicle.id.empty()) vehicle.id = job::id_of_title(vehicle.title);
  if (vehicle.title.empty()) vehicle.title = sentence(sources::spoken(vehicle.id));
}

void from_flags(Context& context, const NewRequest& request, const job::Seen& seen) {
  const auto found = job::identify(seen, installed_families(context));
  Json document = document_of(seen, found);
  document["file"] = nullptr;
  document["vehicle"] = nullptr;
  auto vehicle = vehicle_of(request);
  if (!vehicle.id.empty() || !vehicle.title.empty()) {
    name(vehicle);
    if (vehicle.family.empty()) vehicle.family = decided(found);
    document["file"] = write(context, seen, vehicle, request.output);
    document["vehicle"] = vehicle.id;
  }
  print_json(context, document);
}

void asked(Context& context, const NewRequest& request, job::Seen seen) {
  const bool typed_here = &context.in == &std::cin && ::isatty(STDIN_FILENO) != 0;
  Prompt prompt(context.in, context.out, !typed_here);
  const auto installed = installed_families(context);
  auto vehicle = vehicle_of(request);
  try {
    if (vehicle.family.empty()) {
      ask_signs(prompt, seen, installed);
      vehicle.family = ask_family(prompt, job::identify(seen, installed));
      if (vehicle.family.empty()) {
        context.out << "Nothing was written.\n";
        return;
      }
    }
    ask_form(prompt, seen);
    ask_options(prompt, context.folders, seen, vehicle);
    ask_places(prompt, context.folders, seen, vehicle);
    if (vehicle.title.empty())
      vehicle.title = prompt.line("\nName of the vehicle, for people (Enter: " +
                                  (vehicle.id.empty() ? std::string("New vehicle") : vehicle.id) + "):");
    if (vehicle.title.empty() && vehicle.id.empty()) vehicle.title = "New vehicle";
  } catch (const EndOfInput&) {
    throw InputError("the input ended during the questions; nothing was written");
  }
  name(vehicle);
  write(context, seen, vehicle, request.output);
}

void new_vehicle(Context& context, const NewRequest& request) {
  job::Seen seen;
  for (const auto& told : request.seen) job::see(seen, told);
  // Before any question: nobody answers twenty of them for a file that cannot be written.
  check_free(!request.output.empty() || request.id.empty() ? request.output : request.id + ".toml");
  if (!request.id.empty() && !sources::is_identifier(request.id))
    throw InputError("'" + request.id + "' is no id of a vehicle: small letters, digits and single underscores");
  if (context.json)
    from_flags(context, request, seen);
  else
    asked(context, request, seen);
}

}  // namespace

void add_new_vehicle_command(CLI::App& group, Context& context) {
  const auto request = std::make_shared<NewRequest>();
  CLI::App* command =
      group.add_subcommand("new", "tells the family of an unknown vehicle and writes a first network file for it");
  command->add_option("id", request->id, "id of the new vehicle; without it an id is made of the title")
      ->type_name("ID");
  command->add_option("--title", request->title, "name for people")->type_name("TEXT");
  command->add_option("--seen", request->seen, "what was seen or measured; may be given several times")
      ->type_name("SIGN=ANSWER")
      ->allow_extra_args(false);
  command->add_option("--family", request->family, "the family, where it is known")->type_name("FAMILY");
  command->add_option("--option", request->options, "an option of the family; may be given several times")
      ->type_name("OPTION=VALUE")
      ->allow_extra_args(false);
  command->add_option("--place", request->places, "what lies over a component, or open; may be given several times")
      ->type_name("COMPONENT=COVER")
      ->allow_extra_args(false);
  command->add_option("--output", request->output, "write to this file (ID.toml); never over one that exists")
      ->type_name("FILE");
  add_json_option(*command, context);
  command->footer(
      "With --json nothing is asked; without ID and --title nothing is written then.\n"
      "Signs, answers and their weights: docs/unknown-vehicles.md. Examples:\n"
      "  lostspark vehicle new\n"
      "  lostspark vehicle new --json --seen battery=none --seen primary_ohm=0.3\n"
      "  lostspark vehicle new old_moped --json --family ac_cdi --seen machine=trail_bike\n");
  command->callback([&context, request] { new_vehicle(context, *request); });
}

}  // namespace lostspark::faces
