#include "faces/cli/cards.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "faces/cli/text.hpp"

namespace lostspark::faces {

namespace {

std::string lines_of(std::string_view label, const std::vector<std::string>& lines) {
  std::string text;
  for (const std::string& line : lines) text += (text.empty() ? "" : "\n") + line;
  return labelled(label, text);
}

std::string suspect_names(const std::vector<job::SuspectView>& suspects, std::size_t most) {
  std::vector<std::string> names;
  for (const auto& s : suspects) {
    if (names.size() == most) break;
    names.push_back(s.title);
  }
  return listed(names);
}

std::string results_table(const std::vector<job::ResultClass>& results) {
  Table table(4);
  for (const auto& r : results) {
    std::string meaning = r.meaning;
    if (!r.suspects.empty()) {
      if (!meaning.empty() && meaning.back() != '.') meaning += '.';
      meaning +=
          (meaning.empty() ? "First suspect then: " : " First suspect then: ") + suspect_names(r.suspects, 1) + ".";
    }
    if (!meaning.empty() && meaning.back() != '.') meaning += '.';
    table.row({r.range.empty() ? r.name : r.range, sentence(meaning)});
  }
  return table.text();
}

std::string ratio(double value) {
  if (value >= 1) return "x " + number(value);
  return value > 0 ? "/ " + number(1 / value) : "ruled out";
}

}  // namespace

std::string caution_lines(const std::vector<job::CautionView>& cautions, std::set<std::string>& shown) {
  std::string out;
  std::vector<std::pair<std::string, std::string>> again;  // signal word and what to do, one paragraph a word
  for (const auto& c : cautions) {
    std::string text = sentence(c.avoid);
    if (!text.empty() && text.back() != '.') text += '.';
    if (shown.insert(c.id).second)
      out += labelled(c.signal_word, sentence(c.text) + ". " + text);
    else if (!again.empty() && again.back().first == c.signal_word)
      again.back().second += " " + text;
    else
      again.emplace_back(c.signal_word, text);
  }
  for (const auto& [word, text] : again) out += labelled(word, text);
  return out;
}

std::string heading(int number, std::string_view title) {
  return number == 0 ? wrapped(sentence(title)) : labelled(std::to_string(number) + ".", sentence(title), 0, 3);
}

std::string first_page(const std::vector<job::CautionView>& cautions, std::set<std::string>& shown) {
  return "Before the first measurement\n" + wrapped(job::deference_text(), 2) + caution_lines(cautions, shown);
}

std::string step_card(const model::Vehicle& v, const job::StepView& step, std::set<std::string>& shown) {
  std::string out = lines_of("where", step.where);
  out += lines_of("take off", step.take_off);
  out += lines_of("put back", step.put_back);
  std::vector<std::string> first;
  for (const std::string& id : step.before_unplugging) {
    const auto test = v.find_test(id);
    first.push_back(test ? v.tests[static_cast<std::size_t>(*test)].title : id);
  }
  if (!first.empty()) out += labelled("better first", "unplugging may cure a contact, so read first: " + listed(first));
  out += caution_lines(step.cautions, shown);
  out += labelled("with", step.instrument);
  out += lines_of("hook up", step.hook_up);
  out += labelled("time", "about " + minutes(step.access_min));
  out += lines_of("healthy", step.healthy);
  if (!step.results.empty()) out += "  what it would mean\n" + results_table(step.results);
  return out;
}

std::string ready_lines(const job::StepView& step) { return lines_of("then", step.state); }

std::string repair_card(const job::RepairView& repair, std::set<std::string>& shown) {
  std::string out = lines_of("where", repair.where);
  out += lines_of("because", repair.why);
  out += lines_of("take off", repair.take_off);
  out += caution_lines(repair.cautions, shown);
  std::string cost = minutes(repair.labour_min) + " of work";
  if (repair.price > 0) cost += ", part about " + number(repair.price);
  if (repair.over_limit) cost += "; with it the customer's limit is passed: ask first";
  out += labelled("cost", cost);
  out += labelled("chance", percent(repair.cures) + " that this ends the job");
  out += labelled("again", repair.done_before);
  out += labelled("mind", repair.weak_evidence);
  return out;
}

std::string check_card(const job::CheckView& check) {
  std::string out = lines_of("how", check.how);
  return out;
}

std::string done_lines(const job::Done& done) {
  std::string out = labelled("noted", done.text);
  for (const std::string& line : done.also) out += labelled("", line);
  return out;
}

std::string notice_lines(const std::vector<job::Notice>& notices) {
  std::string out;
  for (const auto& n : notices) out += labelled("mind", n.text);
  return out;
}

std::string suspect_line(const std::vector<job::SuspectView>& suspects, std::size_t most) {
  std::vector<std::string> names;
  for (const auto& s : suspects) {
    if (names.size() == most) break;
    names.push_back(s.title + " (" + percent(s.probability) + ")");
  }
  return names.empty() ? std::string() : labelled("suspects", listed(names));
}

std::string suspect_table(const std::vector<job::SuspectView>& suspects, double nothing_wrong, double unexplored) {
  Table table;
  for (const auto& s : suspects) table.row({percent(s.probability), s.mode_id, s.title});
  table.row({percent(nothing_wrong), "-", "nothing wrong in what is described"});
  return table.text() + labelled("left out", percent(unexplored) + " is estimated for combinations not looked at");
}

std::string advice_title(const model::Vehicle& v, const planning::Advice& a) {
  switch (a.kind) {
    case planning::StepKind::test:
      return v.tests[static_cast<std::size_t>(a.test)].title;
    case planning::StepKind::repair:
      return v.repairs[static_cast<std::size_t>(a.repair)].title;
    case planning::StepKind::refer:
      return "refer the job on";
  }
  return {};
}

std::string plan_page(const model::Vehicle& v, const planning::Plan& plan, std::size_t most, Ids ids) {
  std::string out = "What to do next, best first\n";
  Table table;
  std::size_t n = 0;
  for (const auto& a : plan.steps) {
    if (n == most) break;
    std::string note = sentence(advice_title(v, a));
    if (a.kind == planning::StepKind::repair && a.price > 0) note += ", part about " + number(a.price);
    std::vector<std::string> covers;
    for (const auto c : a.covers_to_open) covers.push_back(v.covers[static_cast<std::size_t>(c)].title);
    if (!covers.empty()) note += "; off first: " + listed(covers);
    if (!a.reasons_against.empty()) note += " (" + listed(a.reasons_against) + ")";
    if (ids == Ids::shown && a.kind == planning::StepKind::test)
      note += "\n" + v.tests[static_cast<std::size_t>(a.test)].id;
    if (ids == Ids::shown && a.kind == planning::StepKind::repair)
      note += "\n" + v.repairs[static_cast<std::size_t>(a.repair)].id;
    table.row({fmt::format("{}.", ++n), a.kind == planning::StepKind::refer ? "" : minutes(a.access_min), note});
  }
  out += table.text();
  if (plan.nothing_separates) out += wrapped("No listed test tells the suspects that are left apart.", 2);
  if (!plan.steps.empty())
    out += labelled("expected", "at most " + minutes(plan.steps.front().expected_cost_min) +
                                    " to the end, parts counted as time at the shop's rate; without another test " +
                                    minutes(plan.no_test_cost_min));
  if (!plan.refused.empty()) out += labelled("not here", listed(plan.refused));
  return out;
}

std::string why_page(const model::Vehicle& v, const job::WhyView& why) {
  std::string out = "Suspects\n" + suspect_table(why.suspects, why.nothing_wrong, why.unexplored_mass);
  if (!why.influences.empty()) {
    out += "\nWhich reading moved what (likelihood ratio)\n";
    Table table;
    for (const auto& i : why.influences) table.row({ratio(i.likelihood_ratio), i.title, i.reading});
    out += table.text();
  }
  if (why.test != model::k_none) {
    out += "\n" + sentence(v.tests[static_cast<std::size_t>(why.test)].title) + "\n";
    out += labelled("tells", fmt::format("{} bit in {}, {} bit a minute", number(why.gain_bits),
                                         minutes(why.access_min), number(why.gain_bits_per_min)));
    out += labelled("cost", fmt::format("{} expected to a working vehicle this way, {} without another test",
                                        minutes(why.expected_cost_min), minutes(why.no_test_cost_min)));
    if (!why.predictions.empty()) {
      out += "  each suspect says\n";
      Table table(4);
      for (const auto& p : why.predictions) table.row({p.predicts, p.title + " (" + percent(p.probability) + ")"});
      out += table.text();
    }
    if (!why.results.empty()) {
      out += "  each result would lead to\n";
      Table table(4);
      for (const auto& r : why.results) {
        std::vector<std::string> then;
        for (const auto& s : r.suspects)
          if (then.size() < 3) then.push_back(s.title + " " + percent(s.probability));
        table.row({percent(r.probability), r.range.empty() ? r.name : r.range, listed(then)});
      }
      out += table.text();
    }
  } else {
    out += "\n" +
           labelled("cost", fmt::format("{} expected to a working vehicle by the step advised, {} without another test",
                                        minutes(why.expected_cost_min), minutes(why.no_test_cost_min)));
  }
  return out;
}

std::string history_table(const std::vector<job::HistoryLine>& lines) {
  Table table;
  for (const auto& line : lines) {
    std::string text = line.text;
    switch (line.status) {
      case job::HistoryLine::Status::in_force:
        break;
      case job::HistoryLine::Status::amended:
        text += " (amended)";
        break;
      case job::HistoryLine::Status::struck:
        text += " (struck)";
        break;
      case job::HistoryLine::Status::undone:
        text += " (undone)";
        break;
    }
    table.row({fmt::format("{}", line.sequence), line.at, text});
  }
  return table.text();
}

std::string bench_page(const job::Job& job) {
  std::vector<std::string> off, standing;
  for (const auto& c : job.covers())
    if (c.off) off.push_back(c.title);
  for (const auto& s : job.setups())
    if (s.standing) standing.push_back(s.title);
  return labelled("off", off.empty() ? "nothing" : listed(off)) +
         labelled("set up", standing.empty() ? "nothing" : listed(standing)) +
         labelled("held", job::to_string(job.state().provocation));
}

}  // namespace lostspark::faces
