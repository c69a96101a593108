// The sheet as plain text, at most 80 columns.
#include <fmt/format.h>

#include <algorithm>

#include "job/sheet.hpp"
#include "job/words.hpp"

namespace lostspark::job {
namespace {

constexpr std::size_t k_columns = 80;

/// Wraps `text` behind `first`; further lines are indented by `indent`. Words longer than a line are cut.
void wrap(std::string& out, const std::string& first, const std::string& text, std::size_t indent) {
  std::string line = first;
  bool empty = true;
  const auto flush = [&] {
    while (!line.empty() && line.back() == ' ') line.pop_back();
    out += line + "\n";
    line.assign(indent, ' ');
    empty = true;
  };
  std::size_t at = 0;
  while (at < text.size()) {
    const auto end = std::min(text.find_first_of(" \n", at), text.size());
    std::string word = text.substr(at, end - at);
    at = end + 1;
    if (word.empty()) continue;
    if (!empty && line.size() + 1 + word.size() > k_columns) flush();
    while (line.size() + word.size() > k_columns) {
      const std::size_t room = k_columns - line.size();
      line += word.substr(0, room);
      word.erase(0, room);
      flush();
    }
    if (!empty) line += ' ';
    line += word;
    empty = false;
  }
  flush();
}

void field(std::string& out, const std::string& label, const std::string& text) {
  wrap(out, fmt::format("{:<12}", label + ":"), text.empty() ? "-" : text, 12);
}

void heading(std::string& out, const std::string& text) {
  out += "\n" + text + "\n" + std::string(text.size(), '-') + "\n";
}

}  // namespace

std::string render(const Sheet& s) {
  std::string out;
  wrap(out, "", fmt::format("{}   job {}   {}", s.workshop, s.job, s.state), 0);
  field(out, "vehicle", s.vehicle);
  field(out, "opened", s.opened_at);
  heading(out, "Intake");
  if (s.intake.empty()) out += "nothing was asked\n";
  for (const auto& line : s.intake) wrap(out, "", line, 2);
  heading(out, "Complaint, cause, correction, proof");
  field(out, "complaint", s.complaint);
  field(out, "cause", s.cause);
  field(out, "correction", s.correction);
  field(out, "proof",
        s.proof_test.empty() ? "no reading was repeated after the repair"
                             : s.proof_test + ": " + s.proof_before + " before, " + s.proof_after + " after");
  field(out, "check", s.check.empty() ? "not done" : s.check);
  heading(out, "Values");
  if (s.values.empty()) out += "none\n";
  for (const auto& v : s.values) {
    std::string text = v.title + ": " + v.value + " (" + v.instrument + (v.state.empty() ? "" : "; " + v.state) + ")";
    if (v.struck) text = "STRUCK " + text;
    wrap(out, fmt::format("{:>3} ", v.sequence), text, 4);
  }
  heading(out, "Time and parts");
  out += fmt::format("labour      {:8.0f} min {:10.2f}\n", s.minutes, s.labour_money);
  for (const auto& p : s.parts) wrap(out, fmt::format("{:<9}  {:>12.2f}  ", p.state, p.price), p.title, 25);
  out += fmt::format("total       {:>23.2f}\n", s.labour_money + s.parts_money);
  if (!s.stops.empty()) {
    heading(out, "Stops and interlocks");
    for (const auto& stop : s.stops) wrap(out, "", stop, 2);
  }
  if (!s.notes.empty()) {
    heading(out, "Notes");
    for (const auto& note : s.notes) wrap(out, "", note, 2);
  }
  heading(out, "Cautions");
  for (const auto& c : s.cautions) wrap(out, "", c, 2);
  wrap(out, "", s.deference, 0);
  return out;
}

}  // namespace lostspark::job
