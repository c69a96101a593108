#include "faces/cli/json_views.hpp"

#include "faces/cli/cards.hpp"

namespace lostspark::faces {

namespace {

template <class Row, class Make>
Json rows(const std::vector<Row>& all, Make make) {
  Json out = Json::array();
  for (const Row& row : all) out.push_back(make(row));
  return out;
}

Json result_json(const job::ResultClass& r) {
  return {{"name", r.name},
          {"range", r.range},
          {"low", json_number(r.low)},
          {"high", json_number(r.high)},
          {"probability", json_number(r.probability)},
          {"meaning", r.meaning},
          {"suspects", rows(r.suspects, suspect_json)}};
}

Json caution_json(const job::CautionView& c) {
  return {{"id", c.id}, {"signal_word", c.signal_word}, {"text", c.text}, {"avoid", c.avoid}};
}

Json stop_json(const job::StopView& s) { return {{"component", s.id}, {"title", s.title}, {"recorded", s.recorded}}; }

Json notice_json(const job::Notice& n) { return {{"kind", n.kind}, {"sequence", n.sequence}, {"text", n.text}}; }

const char* status_name(job::HistoryLine::Status status) {
  switch (status) {
    case job::HistoryLine::Status::in_force:
      return "in_force";
    case job::HistoryLine::Status::amended:
      return "amended";
    case job::HistoryLine::Status::struck:
      return "struck";
    case job::HistoryLine::Status::undone:
      return "undone";
  }
  return "in_force";
}

}  // namespace

Json advice_json(const model::Vehicle& v, const planning::Advice& a) {
  Json out;
  switch (a.kind) {
    case planning::StepKind::test:
      out = {{"kind", "test"}, {"test", v.tests[static_cast<std::size_t>(a.test)].id}};
      break;
    case planning::StepKind::repair:
      out = {{"kind", "repair"}, {"repair", v.repairs[static_cast<std::size_t>(a.repair)].id}};
      break;
    case planning::StepKind::refer:
      out = {{"kind", "refer"}};
      break;
  }
  out["title"] = advice_title(v, a);
  out["gain_bits"] = json_number(a.gain_bits);
  out["access_min"] = json_number(a.access_min);
  out["gain_bits_per_min"] = json_number(a.gain_bits_per_min);
  out["expected_cost_min"] = json_number(a.expected_cost_min);
  out["cures_probability"] = json_number(a.cures);
  out["price"] = json_number(a.price);
  Json covers = Json::array();
  for (const auto c : a.covers_to_open) covers.push_back(v.covers[static_cast<std::size_t>(c)].id);
  out["covers_to_open"] = covers;
  out["reasons_against"] = a.reasons_against;
  return out;
}

Json plan_json(const job::Job& job, const planning::Plan& plan) {
  return {{"job", job.id()},
          {"advice", rows(plan.steps, [&](const planning::Advice& a) { return advice_json(job.vehicle(), a); })},
          {"unexplored_mass", json_number(job.posterior().unexplored_mass())},
          {"nothing_separates", plan.nothing_separates},
          {"no_test_cost_min", json_number(plan.no_test_cost_min)},
          {"refused", plan.refused},
          {"notices", rows(job.notices(), notice_json)}};
}

Json suspect_json(const job::SuspectView& s) {
  return {{"component", s.component_id},
          {"mode", s.mode_id},
          {"title", s.title},
          {"probability", json_number(s.probability)}};
}

Json suspects_json(const job::Job& job, double least) {
  return {{"job", job.id()},
          {"suspects", rows(job.suspects(least), suspect_json)},
          {"nothing_wrong_probability", json_number(job.posterior().nothing_wrong())},
          {"unexplored_mass", json_number(job.posterior().unexplored_mass())}};
}

Json step_json(const job::StepView& s) {
  return {{"test", s.id},
          {"title", s.title},
          {"unit", s.unit},
          {"instrument", s.instrument},
          {"where", s.where},
          {"take_off", s.take_off},
          {"put_back", s.put_back},
          {"healthy", s.healthy},
          {"before_unplugging", s.before_unplugging},
          {"hook_up", s.hook_up},
          {"repeats", s.repeats},
          {"state", s.state},
          {"ready", s.ready},
          {"ask", s.ask},
          {"access_min", json_number(s.access_min)},
          {"results", rows(s.results, result_json)},
          {"cautions", rows(s.cautions, caution_json)}};
}

Json repair_json(const job::RepairView& r) {
  return {{"repair", r.id},
          {"title", r.title},
          {"kind", r.kind},
          {"where", r.where},
          {"take_off", r.take_off},
          {"why", r.why},
          {"labour_min", json_number(r.labour_min)},
          {"price", json_number(r.price)},
          {"success_probability", json_number(r.success)},
          {"cures_probability", json_number(r.cures)},
          {"over_limit", r.over_limit},
          {"done_before", r.done_before},
          {"weak_evidence", r.weak_evidence},
          {"cautions", rows(r.cautions, caution_json)}};
}

Json check_json(const job::CheckView& c) {
  return {{"title", c.title},
          {"how", c.how},
          {"words", c.words},
          {"repeat_sequence", c.repeat_sequence},
          {"repeat_test", c.repeat_test},
          {"repeat_text", c.repeat_text},
          {"stops", rows(c.stops, stop_json)}};
}

Json why_json(const job::Job& job, const job::WhyView& w) {
  return {{"job", job.id()},
          {"test",
           w.test == model::k_none ? Json(nullptr) : Json(job.vehicle().tests[static_cast<std::size_t>(w.test)].id)},
          {"gain_bits", json_number(w.gain_bits)},
          {"access_min", json_number(w.access_min)},
          {"gain_bits_per_min", json_number(w.gain_bits_per_min)},
          {"expected_cost_min", json_number(w.expected_cost_min)},
          {"no_test_cost_min", json_number(w.no_test_cost_min)},
          {"suspects", rows(w.suspects, suspect_json)},
          {"influences", rows(w.influences,
                              [](const job::InfluenceView& i) {
                                return Json{{"sequence", i.sequence},
                                            {"reading", i.reading},
                                            {"mode", i.mode_id},
                                            {"title", i.title},
                                            {"likelihood_ratio", json_number(i.likelihood_ratio)}};
                              })},
          {"predictions", rows(w.predictions,
                               [](const job::PredictionView& p) {
                                 return Json{{"mode", p.mode_id},
                                             {"title", p.title},
                                             {"probability", json_number(p.probability)},
                                             {"predicts", p.predicts}};
                               })},
          {"results", rows(w.results, result_json)},
          {"nothing_wrong_probability", json_number(w.nothing_wrong)},
          {"unexplored_mass", json_number(w.unexplored_mass)}};
}

Json done_json(const job::Job& job, const job::Done& d) {
  return {{"job", job.id()},
          {"sequence", d.sequence},
          {"text", d.text},
          {"also", d.also},
          {"state", job::to_string(job.state().state)}};
}

Json bench_json(const job::Job& job) {
  return {
      {"job", job.id()},
      {"covers", rows(job.covers(),
                      [](const job::CoverView& c) {
                        return Json{{"id", c.id},
                                    {"title", c.title},
                                    {"off", c.off},
                                    {"remove_min", json_number(c.remove_min)},
                                    {"refit_min", json_number(c.refit_min)},
                                    {"first", c.first}};
                      })},
      {"setups",
       rows(job.setups(),
            [](const job::SetupView& s) {
              return Json{{"id", s.id}, {"title", s.title}, {"instruction", s.instruction}, {"standing", s.standing}};
            })},
      {"provocation", job::to_string(job.state().provocation)}};
}

Json job_json(const job::Job& job) {
  const auto& state = job.state();
  Json out{{"job", job.id()},
           {"vehicle", job.vehicle().id},
           {"family", job.header().family},
           {"family_version", job.header().family_version},
           {"opened_at", job.header().opened_at},
           {"state", job::to_string(state.state)},
           {"outcome", state.outcome.empty() ? Json(nullptr) : Json(state.outcome)},
           {"complaints", state.intake.complaints},
           {"labour_min", json_number(state.minutes)},
           {"history", rows(job.history(),
                            [](const job::HistoryLine& h) {
                              return Json{{"sequence", h.sequence},
                                          {"at", h.at},
                                          {"kind", h.kind},
                                          {"text", h.text},
                                          {"status", status_name(h.status)}};
                            })},
           {"stops_needed", job.stops_needed()},
           {"stops", rows(job.stops(), stop_json)}};
  return out;
}

Json summary_json(const history::JobSummary& s) {
  return {{"job", s.header.id},
          {"vehicle", s.header.vehicle},
          {"family", s.header.family},
          {"state", job::to_string(s.state)},
          {"opened_at", s.header.opened_at},
          {"changed_at", s.changed_at},
          {"entries", s.entries}};
}

Json sheet_json(const job::Sheet& s) {
  return {{"job", s.job},
          {"workshop", s.workshop},
          {"vehicle", s.vehicle},
          {"opened_at", s.opened_at},
          {"state", s.state},
          {"intake", s.intake},
          {"complaint", s.complaint},
          {"cause", s.cause},
          {"correction", s.correction},
          {"proof", {{"test", s.proof_test}, {"before", s.proof_before}, {"after", s.proof_after}}},
          {"check", s.check},
          {"values",
           rows(s.values,
                [](const job::SheetValue& v) {
                  return Json{
                      {"sequence", v.sequence},     {"test", v.test_id}, {"title", v.title}, {"value", v.value},
                      {"instrument", v.instrument}, {"state", v.state},  {"at", v.at},       {"struck", v.struck}};
                })},
          {"labour_min", json_number(s.minutes)},
          {"labour_money", json_number(s.labour_money)},
          {"parts_money", json_number(s.parts_money)},
          {"parts", rows(s.parts,
                         [](const job::SheetPart& p) {
                           return Json{{"title", p.title},
                                       {"state", p.state},
                                       {"price", json_number(p.price)},
                                       {"labour_min", json_number(p.labour_min)}};
                         })},
          {"stops", s.stops},
          {"notes", s.notes},
          {"cautions", s.cautions},
          {"deference", s.deference}};
}

}  // namespace lostspark::faces
