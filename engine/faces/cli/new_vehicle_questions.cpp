#include "faces/cli/new_vehicle_questions.hpp"

#include <algorithm>

#include "base/error.hpp"
#include "faces/cli/text.hpp"
#include "sources/text.hpp"

namespace lostspark::faces {

namespace {

constexpr double k_shown = 0.005;  // families below are summed up in one line

const job::SignQuestion& question_of(const std::string& sign) {
  const auto& all = job::sign_questions();
  return *std::find_if(all.begin(), all.end(), [&](const auto& q) { return q.id == sign; });
}

std::string note_lines(const job::SafetyNote& note) {
  return labelled(note.signal_word, note.text + ": " + note.avoid + " (" + note.id + ")");
}

/// What not to do before this is measured, while a family that it would harm is still possible.
std::string before_measuring(const job::SignQuestion& sign, const job::Identification& found) {
  std::string text;
  for (const auto& id : sign.notes) text += note_lines(job::safety_note(id));
  for (const auto* hazard : found.warnings)
    if (std::find(sign.hazards.begin(), sign.hazards.end(), hazard->id) != sign.hazards.end())
      text += labelled("not sure yet", sentence(hazard->text) + ".", 2, 14);
  return text;
}

std::string so_far(const job::Identification& found) {
  std::vector<std::string> parts;
  for (const auto& f : found.families)
    if (parts.size() < 3 && f.probability >= 0.05) parts.push_back(f.title + " " + percent(f.probability));
  return labelled("so far", sources::join(parts, "; "));
}

/// One key; `standing` is what Enter keeps, npos: nothing. npos as result: Enter without a standing answer.
constexpr std::size_t k_nothing = static_cast<std::size_t>(-1);

std::size_t one_key(Prompt& prompt, const std::vector<std::string>& choices, std::size_t standing) {
  Table table(4);
  for (std::size_t i = 0; i < choices.size(); ++i)
    table.row({std::to_string(i + 1), choices[i] + (i == standing ? "  (Enter)" : "")});
  prompt.say(table.text());
  for (;;) {
    const auto typed = prompt.line("one key:");
    if (typed.empty()) return standing;
    if (typed.size() == 1 && typed[0] >= '1' && static_cast<std::size_t>(typed[0] - '1') < choices.size())
      return static_cast<std::size_t>(typed[0] - '1');
    prompt.say("'" + typed.substr(0, 40) + "' is not in the list.\n");
  }
}

std::string asked_option(Prompt& prompt, const sources::FamilyOption& option, const std::string& proposed) {
  prompt.say("\n" + wrapped(sentence(sources::spoken(option.id)) +
                            (option.description.empty() ? "" : ": " + option.description)));
  if (option.kind == "bool") return one_key(prompt, {"yes", "no"}, proposed == "true" ? 0 : 1) == 0 ? "true" : "false";
  if (option.kind == "choice") {
    const auto choices = sources::pieces_of(option.choices, '|');
    const auto at = std::find(choices.begin(), choices.end(), proposed);
    return choices[one_key(prompt, choices, static_cast<std::size_t>(at - choices.begin()))];
  }
  for (;;) {
    const auto typed = prompt.line("number (Enter: " + proposed + "):");
    if (typed.empty()) return proposed;
    const auto expected = sources::option_mistake(option, typed);
    if (expected.empty()) return typed;
    prompt.say("expected " + expected + ".\n");
  }
}

}  // namespace

void ask_signs(Prompt& prompt, job::Seen& seen, const std::vector<std::string>& installed) {
  prompt.say(wrapped(
      "Which family of ignition is it? One key each; Enter leaves a question out, - goes back. What is seen comes "
      "first; what needs a meter comes only while it still tells something."));
  std::vector<job::Seen> before;       // what stood before each question
  std::vector<std::string> questions;  // those asked, answered or not
  for (;;) {
    const auto found = job::identify(seen, installed);
    const auto next = std::find_if(found.signs.begin(), found.signs.end(), [&](const auto& s) {
      return std::find(questions.begin(), questions.end(), s.sign) == questions.end();
    });
    if (next == found.signs.end()) return;
    const auto& sign = question_of(next->sign);
    const auto question = job::sign_question(sign);
    Table table(4);
    for (const auto& c : question.choices) table.row({c.key, c.text});
    prompt.say("\n" + wrapped(sentence(sign.text)) + wrapped(sign.how, 2) +
               (sign.measured ? before_measuring(sign, found) : "") + table.text());
    const bool ohms = sign.id == "primary_ohm";
    for (;;) {
      const auto typed = prompt.line(ohms ? "one key, or ohms as 0.3 ohm:" : "one key:");
      if (typed == "-") {
        if (before.empty()) continue;
        seen = before.back();
        before.pop_back();
        questions.pop_back();
        break;
      }
      const auto key =
          std::find_if(question.choices.begin(), question.choices.end(), [&](const auto& c) { return c.key == typed; });
      try {
        const auto standing = seen;
        if (key != question.choices.end())
          job::see(seen, sign.id, key->id);
        else if (ohms && typed.ends_with("ohm"))
          job::see(seen, sign.id, sources::pieces_of(typed.substr(0, typed.size() - 3), ' ').front());
        else if (!typed.empty())
          throw InputError("'" + typed.substr(0, 40) + "' is no answer here; keys 1 to " +
                           std::to_string(question.choices.size()) + ", or Enter to skip");
        before.push_back(standing);
        questions.push_back(sign.id);
        if (!typed.empty()) prompt.say(so_far(job::identify(seen, installed)));
        break;
      } catch (const InputError& error) {
        prompt.say(wrapped(error.what()));
      }
    }
  }
}

std::string ask_family(Prompt& prompt, const job::Identification& found) {
  std::vector<const job::FamilyBelief*> shown;
  std::vector<std::string> lines;
  double rest = 0;
  for (const auto& f : found.families) {
    if (f.probability < k_shown && shown.size() >= 2) {
      rest += f.probability;
      continue;
    }
    shown.push_back(&f);
    lines.push_back(f.id + ", " + percent(f.probability) + ": " + f.title + (f.installed ? "" : " (not installed)"));
  }
  prompt.say("\nThe family\n" + std::string(rest > 0 ? wrapped("All others together: " + percent(rest) + ".", 2) : ""));
  if (!found.warnings.empty()) {
    prompt.say(wrapped("It is not certain yet. Until it is:", 2));
    Table table(4);
    for (const auto* w : found.warnings)
      table.row({w->note.empty() ? "part" : job::safety_note(w->note).signal_word, w->note, sentence(w->text) + "."});
    prompt.say(table.text());
  }
  for (;;) {
    lines.resize(shown.size());
    lines.push_back("none of them: write nothing");
    const auto chosen = one_key(prompt, lines, shown.front()->installed ? 0 : k_nothing);
    if (chosen == k_nothing || chosen == shown.size()) return {};
    if (shown[chosen]->installed) return shown[chosen]->id;
    prompt.say(wrapped("The plugin of the family " + shown[chosen]->id +
                       " is not installed: no vehicle of it can be written (lostspark family list)."));
  }
}

void ask_form(Prompt& prompt, job::Seen& seen) {
  if (!job::answer_of(seen, "machine").empty()) return;
  const auto question = job::sign_question(question_of("machine"));
  std::vector<std::string> choices;
  for (const auto& c : question.choices) choices.push_back(c.text);
  prompt.say("\n" + wrapped("Which machine comes nearest? Covers and places are taken from it."));
  if (const auto chosen = one_key(prompt, choices, k_nothing); chosen != k_nothing)
    job::see(seen, "machine", question.choices[chosen].id);
}

void ask_options(Prompt& prompt, const sources::Folders& folders, const job::Seen& seen, job::NewVehicle& vehicle) {
  const auto options = sources::family_options(folders, vehicle.family);
  if (!options.empty()) prompt.say("\nWhat is fitted\n");
  for (const auto& option : options) {
    const auto stated = [&](const auto& s) { return s.first == option.id; };
    if (std::any_of(vehicle.options.begin(), vehicle.options.end(), stated)) continue;
    vehicle.options.emplace_back(option.id, asked_option(prompt, option, job::proposed_option(seen, option)));
  }
}

void ask_places(Prompt& prompt, const sources::Folders& folders, const job::Seen& seen, job::NewVehicle& vehicle) {
  const auto& form = job::vehicle_form(job::answer_of(seen, "machine"));
  if (form.covers.empty()) return;  // nothing to choose from: everything lies open until the file is edited
  prompt.say("\nWhere things are\n" + wrapped("As on a usual " + form.title + ". Choose what is elsewhere here.", 2));
  for (;;) {
    const auto draft = job::draft_of(folders, seen, vehicle);
    std::vector<std::string> lines;
    for (const auto& p : draft.places) lines.push_back(p.component + ": " + p.place);
    const auto chosen = prompt.choose("Component", lines);
    if (!chosen) return;
    std::vector<std::string> covers{"nothing: open to the hand"};
    for (const auto& c : form.covers) covers.push_back(c.title);
    const auto over = prompt.choose("What lies over it", covers);
    if (!over) continue;
    const auto& component = draft.places[*chosen].component;
    vehicle.elsewhere.emplace_back(
        component, *over == 0 ? std::vector<std::string>{} : std::vector<std::string>{form.covers[*over - 1].id});
  }
}

}  // namespace lostspark::faces
