#include "faces/cli/play.hpp"

#include <ostream>

#include "base/error.hpp"
#include "faces/cli/cards.hpp"
#include "faces/cli/text.hpp"
#include "job/auto_run.hpp"
#include "job/sheet.hpp"
#include "sources/text.hpp"

namespace lostspark::faces {

namespace {

using model::Index;
using model::Vehicle;

Index mode_named(const Vehicle& v, const std::string& id) {
  if (const auto mode = v.find_mode(id)) return *mode;
  std::vector<std::string> ids;
  for (const auto& m : v.modes) ids.push_back(m.id);
  throw InputError("no fault \"" + id + "\" on " + v.id + sources::suggestion(id, ids) +
                   "; faults are written component.mode, lostspark vehicle show " + v.id + " --json lists them");
}

/// What the customer says of the hidden fault; the first complaint where several are given.
Index complaint_of(const Vehicle& v, const PlayRequest& request) {
  if (request.complaints.empty()) return model::k_none;
  if (const auto found = v.find_complaint(request.complaints.front())) return *found;
  std::vector<std::string> ids;
  for (const auto& c : v.complaints) ids.push_back(c.id);
  throw InputError("no complaint \"" + request.complaints.front() + "\" on " + v.id +
                   sources::suggestion(request.complaints.front(), ids));
}

std::string mode_title(const Vehicle& v, Index mode) {
  const auto& m = v.modes[static_cast<std::size_t>(mode)];
  return v.components[static_cast<std::size_t>(m.component)].title + ": " + m.title;
}

std::string faults_title(const Vehicle& v, const simulation::Truth& truth) {
  std::vector<std::string> titles;
  for (const auto& fault : truth.faults) titles.push_back(mode_title(v, fault.mode));
  return titles.empty() ? "nothing at all" : listed(titles);
}

/// The step about to be taken, shorter than the card of a guided job: nobody has to carry it out.
std::string step_text(const job::Job& job, const planning::Advice& advice) {
  std::vector<std::string> off;
  for (const Index c : advice.covers_to_open) off.push_back(job.vehicle().covers[static_cast<std::size_t>(c)].title);
  std::string out = off.empty() ? "" : labelled("take off", listed(off));
  if (advice.kind == planning::StepKind::test) {
    const auto step = job.step(advice.test);
    std::string hook_up;
    for (const std::string& line : step.hook_up) hook_up += (hook_up.empty() ? "" : " ") + line;
    out += labelled("hook up", hook_up);
  }
  if (advice.kind == planning::StepKind::repair && advice.price > 0)
    out += labelled("part", "about " + number(advice.price));
  return out + labelled("time", advice.kind == planning::StepKind::refer ? "" : minutes(advice.access_min));
}

}  // namespace

void play(Context& context, Session& session, const PlayRequest& request) {
  auto& out = context.out;
  const auto vehicle = session.desk().vehicle(request.vehicle);
  const Index wanted = complaint_of(*vehicle, request);
  simulation::Bench bench(vehicle, session.workshop(), request.seed);
  simulation::Truth truth =
      request.fault.empty() ? bench.draw(wanted) : bench.draw_with({mode_named(*vehicle, request.fault)});
  bench.put(truth);

  job::Intake intake;
  intake.complaints = request.complaints;
  if (intake.complaints.empty() && truth.complaint != model::k_none)
    intake.complaints.push_back(vehicle->complaints[static_cast<std::size_t>(truth.complaint)].id);
  job::Job job = session.desk().open(request.vehicle, intake);

  std::set<std::string> shown;
  out << wrapped(vehicle->title + ", played by the program with a hidden fault (seed " + std::to_string(request.seed) +
                 ")");
  std::vector<std::string> said;
  for (const auto& id : intake.complaints)
    if (const auto c = vehicle->find_complaint(id))
      said.push_back(vehicle->complaints[static_cast<std::size_t>(*c)].title);
  out << labelled("complaint", said.empty() ? "none" : listed(said)) << suspect_line(job.suspects()) << '\n'
      << first_page(job.cautions_before_first(), shown);

  const auto before = [&](const planning::Plan& plan) {
    if (plan.steps.empty()) return;
    out << '\n'
        << wrapped(sentence(advice_title(job.vehicle(), plan.steps.front()))) << step_text(job, plan.steps.front());
    out.flush();
  };
  const auto after = [&](const job::AutoStep& step) {
    out << labelled("answer", step.answer);
    if (job.state().state != history::JobState::closed) out << suspect_line(job.suspects());
    out.flush();
  };
  const auto result = job::run_simulated(job, bench, after, before);

  out << '\n' << render(make_sheet(job)) << '\n';
  std::string verdict = "The hidden fault was " + faults_title(*vehicle, truth) + ". ";
  switch (result.end) {
    case job::AutoResult::End::fixed:
      verdict += result.cured ? "It is cured." : "The job closed as fixed, but the fault is still there.";
      break;
    case job::AutoResult::End::not_ignition:
      verdict += "The job ended as not ignition.";
      break;
    case job::AutoResult::End::referred_on:
      verdict += "The job was referred on.";
      break;
    case job::AutoResult::End::step_limit:
      verdict += "The job did not come to an end in the steps allowed.";
      break;
  }
  out << wrapped(verdict + " " + counted(static_cast<std::size_t>(result.steps), "step") + ".");
}

}  // namespace lostspark::faces
