#include "faces/cli/play.hpp"

#include <algorithm>
#include <ostream>
#include <random>

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

Index complaint_named(const Vehicle& v, const std::string& id) {
  if (const auto found = v.find_complaint(id)) return *found;
  std::vector<std::string> ids;
  for (const auto& c : v.complaints) ids.push_back(c.id);
  throw InputError("no complaint \"" + id + "\" on " + v.id + sources::suggestion(id, ids));
}

/// The complaint a play starts with when nobody named one: no spark, where the vehicle knows it.
Index usual_complaint(const Vehicle& v) {
  if (const auto no_spark = v.find_complaint("no_spark")) return *no_spark;
  return v.complaints.empty() ? model::k_none : 0;
}

/// Puts the hidden fault on the bench, and the complaint with it.
simulation::Truth hide(const std::shared_ptr<const Vehicle>& vehicle, simulation::Bench& bench,
                       const PlayRequest& request) {
  const Vehicle& v = *vehicle;
  const Index named = request.complaints.empty() ? model::k_none : complaint_named(v, request.complaints.front());
  if (!request.fault.empty()) {
    const Index fault = mode_named(v, request.fault);
    simulation::Truth truth = bench.draw_with({fault});
    truth.complaint = named;
    if (named == model::k_none) {
      std::mt19937_64 random(request.seed);
      truth.complaint = complaint_named(v, job::complaint_as_told(vehicle, truth, random));
    }
    bench.put(truth);
    return truth;
  }
  // Vehicles without a fault come in with a complaint too; a play is about a fault, so they are drawn again.
  constexpr int k_draws = 1000;
  for (int draw = 0; draw < k_draws; ++draw) {
    const simulation::Truth truth = bench.draw(named == model::k_none ? usual_complaint(v) : named);
    if (truth.faults.empty()) continue;
    bench.put(truth);
    return truth;
  }
  throw InputError("no fault of " + v.id + " makes this complaint; name another one, or a fault with --fault");
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

/// The step about to be taken, shorter than the card of a guided job: nobody has to carry it out, and what each result
/// would mean costs more to compute than the step itself.
std::string step_text(const Vehicle& v, const planning::Advice& advice) {
  std::vector<std::string> off;
  for (const Index c : advice.covers_to_open) off.push_back(v.covers[static_cast<std::size_t>(c)].title);
  std::string out = off.empty() ? "" : labelled("take off", listed(off));
  if (advice.kind == planning::StepKind::test) {
    const auto& test = v.tests[static_cast<std::size_t>(advice.test)];
    std::string hook_up;
    if (test.scene != model::k_none)
      for (const Index s : v.scenes[static_cast<std::size_t>(test.scene)].setups)
        hook_up += v.setups[static_cast<std::size_t>(s)].instruction + "\n";
    out += labelled("hook up", hook_up + test.hook_up);
  }
  if (advice.price > 0) out += labelled("part", "about " + number(advice.price));
  return out + labelled("time", minutes(advice.access_min));
}

}  // namespace

void play(Context& context, Session& session, const PlayRequest& request) {
  auto& out = context.out;
  const auto vehicle = session.desk().vehicle(request.vehicle);
  simulation::Bench bench(vehicle, session.workshop(), request.seed);
  const simulation::Truth truth = hide(vehicle, bench, request);

  job::Intake intake;
  intake.complaints = request.complaints;
  if (intake.complaints.empty() && truth.complaint != model::k_none)
    intake.complaints.push_back(vehicle->complaints[static_cast<std::size_t>(truth.complaint)].id);
  intake.spark = job::spark_on_arrival(*vehicle, bench);
  job::Job job = session.desk().open(request.vehicle, intake);

  std::set<std::string> shown;
  out << wrapped(vehicle->title + ", played by the program with a hidden fault (seed " + std::to_string(request.seed) +
                 ")");
  std::vector<std::string> said;
  for (const auto& id : intake.complaints)
    if (const auto c = vehicle->find_complaint(id))
      said.push_back(vehicle->complaints[static_cast<std::size_t>(*c)].title);
  out << labelled("complaint", said.empty() ? "none" : listed(said))
      << labelled("on arrival",
                  intake.spark.empty() ? "" : (intake.spark == "none" ? "no" : intake.spark) + " spark at the tester")
      << suspect_line(job.suspects()) << '\n'
      << first_page(job.cautions_before_first(), shown);

  const auto before = [&](const planning::Plan& plan) {
    if (plan.steps.empty() || plan.steps.front().kind == planning::StepKind::refer) return;
    out << '\n'
        << wrapped(sentence(advice_title(job.vehicle(), plan.steps.front())))
        << step_text(job.vehicle(), plan.steps.front());
    out.flush();
  };
  const auto after = [&](const job::AutoStep& step) {
    out << labelled("answer", step.answer);
    if (job.state().state != history::JobState::closed) out << suspect_line(job.suspects());
    out.flush();
  };
  const auto result = job::run_simulated(job, bench, {.after = after, .before = before});

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
