// Properties of the stages through the C table: direction, continuity, finiteness, refusal.
#include <cmath>
#include <limits>
#include <random>
#include <stdexcept>

#include "catch_all.hpp"
#include "family_client.hpp"

using namespace lostspark::tests;

namespace {

/// Outputs whose continuity matters to inference: all but intermediate gains and reports.
std::vector<std::string> watched() {
  return {"charge.capacitor_volt", "charge.hot_volt",       "charge.source_volt",        "fire.trigger_margin",
          "fire.spark_margin",     "fire.clamp_margin",     "fire.reserve_volt",         "fire.coil_reserve_volt",
          "fire.plug_volt_spark",  "fire.primary_current",  "fire.primary_current_open", "fire.coil_out_volt",
          "fire.primary_volt",     "fire.coil_ground_volt", "fire.ground_volt",          "fire.coil_lug_volt",
          "charge.coil_ground_volt"};
}

double logged(const std::string& name, double value) {
  if (name.find("margin") != std::string::npos) return value;
  // The charging current's drop over a sound coil earth is microvolts; ten millivolts is far below any meter.
  return std::log(name == "charge.coil_ground_volt" ? std::hypot(value, 0.01) : value);
}

using Set = std::function<void(FamilyClient&, double)>;

/// Follows the larger half of a step of `name` between two positions down to `depth` halvings; what is left of the
/// step.
double step_left(const Set& set, const std::string& name, double a, double b, int depth) {
  const auto at = [&](double x) {
    FamilyClient c;
    build_healthy_harness(c);
    set(c, x);
    return logged(name, c.run().at(name));
  };
  double ya = at(a), yb = at(b);
  for (int k = 0; k < depth; ++k) {
    const double m = (a + b) / 2, ym = at(m);
    if (std::abs(ym - ya) > std::abs(yb - ym)) {
      b = m;
      yb = ym;
    } else {
      a = m;
      ya = ym;
    }
  }
  return std::abs(yb - ya);
}

/// No output may jump along the path: a step that looks large must shrink when it is cut finer.
void check_continuous(const std::string& path, const Set& set, int points = 60) {
  std::map<std::string, double> before;
  FamilyClient c;
  build_healthy_harness(c);
  for (int k = 0; k <= points; ++k) {
    const double x = static_cast<double>(k) / points;
    set(c, x);
    const auto& now = c.run();
    for (const auto& name : watched()) {
      const double y = logged(name, now.at(name));
      if (k > 0 && std::abs(y - before[name]) > 0.05) {
        // Thirty-two times finer: a slope leaves a thirty-second part, a jump all of it.
        const double left = step_left(set, name, x - 1.0 / points, x, 5);
        INFO(path << ", " << name << " between " << x - 1.0 / points << " and " << x << ": step " << y - before[name]
                  << ", cut finer " << left);
        CHECK(left < 0.5 * std::abs(y - before[name]) + 1e-3);
      }
      before[name] = y;
    }
  }
}

double between(double mild, double severe, double s) { return std::exp(std::log(mild) + s * std::log(severe / mild)); }

}  // namespace

TEST_CASE("no output jumps while any fault mode grows from mild to severe", "[plugins][property]") {
  FamilyClient reader;
  const auto modes = reader.rows<ls_mode_v1>(LS_MODES);
  const auto changes = reader.rows<ls_change_v1>(LS_CHANGES);
  int followed = 0;
  for (const auto& mode : modes) {
    const std::string id = std::string(mode.component) + "." + mode.id;
    std::vector<ls_change_v1> mine;
    for (const auto& change : changes)
      if (id == change.mode && change.mild != change.severe) mine.push_back(change);
    if (mine.empty()) continue;
    ++followed;
    const auto typical = reader.parameter;
    check_continuous(
        id,
        [&](FamilyClient& c, double s) {
          for (const auto& change : mine) {
            const double value = between(change.mild, change.severe, s);
            c.parameter[change.parameter] = change.operation == LS_SET ? value : typical.at(change.parameter) * value;
          }
          // Elements of the nodal network that modes change.
          build_healthy_harness(c);
          c.harness.join("exciter.hot", "earth", c.parameter["exciter_core_leak_ohm"]);
          c.harness.join("control_module.source", "earth", c.parameter["kill_switch_ohm"]);
          c.harness.join("control_module.source", "control_module.ground", c.parameter["module_input_ohm"]);
        },
        24);
  }
  CHECK(followed > 30);
}

TEST_CASE("no output jumps while a joint or a leak of the harness grows over all decades", "[plugins][property]") {
  const auto joint = [](const std::string& a, const std::string& b) {
    return Set([a, b](FamilyClient& c, double s) { build_joint(c, a, b, between(1e-3, 1e11, s)); });
  };
  check_continuous("exciter wire", joint("exciter.hot", "control_module.source"), 120);
  check_continuous("module earth", joint("control_module.ground", "earth"), 120);
  check_continuous("coil wire", joint("control_module.coil_out", "ignition_coil.primary"), 120);
  check_continuous("coil earth", joint("ignition_coil.ground", "earth"), 120);
  const auto leak = [](const std::string& node) {
    return Set([node](FamilyClient& c, double s) {
      build_healthy_harness(c);
      c.harness.join(node, "earth", between(1e9, 1e-2, s));
    });
  };
  check_continuous("leak of the exciter wire", leak("control_module.source"), 120);
  check_continuous("leak of the coil wire", leak("control_module.coil_out"), 120);
}

TEST_CASE("no output jumps while a healthy unknown moves over its spread", "[plugins][property]") {
  FamilyClient reader;
  for (const auto& p : reader.rows<ls_parameter_v1>(LS_PARAMETERS)) {
    const double sd = std::hypot(p.log_sd, p.event_log_sd);
    if (sd == 0) continue;
    const std::string id = p.id;
    const double typical = p.typical;
    check_continuous(id,
                     [=](FamilyClient& c, double s) { c.parameter[id] = typical * std::exp(sd * 4 * (2 * s - 1)); });
  }
}

TEST_CASE("seen finely, nothing steps by a thousandth where its neighbours do not", "[plugins][property]") {
  // Events that a march misses, crests that change from one sample to the next: such steps are small, and still look
  // like information to a secant. Second differences of the logarithms; a kink (the larger of two crests) gives at most
  // slope change x spacing, about 2e-3 here.
  constexpr int points = 2400;
  const auto parameter = [](const char* id, double middle, double decades) {
    return std::pair{std::string(id), Set([=](FamilyClient& c, double s) {
                       c.parameter[id] = middle * std::pow(10.0, decades * (s - 0.5));
                     })};
  };
  const auto leak = [](const char* node, double middle) {
    return std::pair{std::string("leak at ") + node, Set([=](FamilyClient& c, double s) {
                       build_healthy_harness(c);
                       c.harness.join(node, "earth", middle * std::pow(10.0, s - 0.5));
                     })};
  };
  const auto joint = [](const char* a, const char* b, double middle) {
    return std::pair{std::string("joint at ") + a,
                     Set([=](FamilyClient& c, double s) { build_joint(c, a, b, middle * std::pow(10.0, s - 0.5)); })};
  };
  for (const auto& [path, set] :
       {parameter("cranking_speed_rpm", 600, 0.4), parameter("exciter_emf_volt", 220, 0.6),
        parameter("exciter_ohm", 300, 0.4), parameter("exciter_henry", 0.35, 0.4),
        parameter("capacitor_farad", 1e-6, 0.4), parameter("turns_ratio_one", 70, 0.4),
        parameter("secondary_leak_ohm", 1e5, 1), parameter("plug_leak_ohm", 1e5, 1),
        parameter("capacitor_leak_ohm", 5e4, 0.6), parameter("meter_rise_second", 1e-6, 0.4),
        leak("control_module.source", 300), leak("control_module.source", 3e3),
        joint("control_module.coil_out", "ignition_coil.primary", 10),
        joint("control_module.coil_out", "ignition_coil.primary", 100),
        joint("exciter.hot", "control_module.source", 5e3), joint("ignition_coil.ground", "earth", 3),
        joint("control_module.ground", "earth", 100)}) {
    FamilyClient c;
    build_healthy_harness(c);
    std::map<std::string, std::vector<double>> y;
    for (int k = 0; k < points; ++k) {
      set(c, static_cast<double>(k) / (points - 1));
      const auto& now = c.run();
      for (const auto& name : watched()) y[name].push_back(logged(name, now.at(name)));
    }
    for (const auto& [name, v] : y) {
      double worst = 0;
      std::size_t at = 0;
      for (std::size_t k = 2; k + 2 < v.size(); ++k) {
        const double beside = ((v[k] - v[k - 1]) + (v[k + 2] - v[k + 1])) / 2,
                     step = std::abs(v[k + 1] - v[k] - beside);
        if (step > worst) {
          worst = step;
          at = k;
        }
      }
      INFO(path << ", " << name << " at point " << at << " of " << points);
      CHECK(worst < 3e-3);
    }
  }
}

TEST_CASE("faults push readings in the direction the trade expects", "[plugins][property]") {
  const auto outputs_at = [](const Set& set, double x) {
    FamilyClient c;
    build_healthy_harness(c);
    set(c, x);
    return c.run();
  };
  // Along the path, each named output must fall ('-') or rise ('+') at every step.
  const auto check = [&](const std::string& path, const Set& set, const std::map<std::string, char>& expected) {
    auto last = outputs_at(set, 0);
    for (int k = 1; k <= 12; ++k) {
      const auto now = outputs_at(set, k / 12.0);
      for (const auto& [name, direction] : expected) {
        INFO(path << ", " << name << " at step " << k << ": " << last.at(name) << " -> " << now.at(name));
        CHECK((direction == '+' ? now.at(name) > last.at(name) : now.at(name) < last.at(name)));
      }
      last = now;
    }
  };
  const auto parameter = [](const std::string& id, double from, double to) {
    return Set([=](FamilyClient& c, double s) { c.parameter[id] = between(from, to, s); });
  };
  check("exciter EMF falls", parameter("exciter_emf_volt", 220, 60),
        {{"charge.hot_volt", '-'},
         {"charge.capacitor_volt", '-'},
         {"fire.reserve_volt", '-'},
         {"fire.primary_volt", '-'}});
  check(
      "engine turns slower", parameter("cranking_speed_rpm", 600, 150),
      {{"charge.hot_volt", '-'}, {"charge.capacitor_volt", '-'}, {"fire.spark_margin", '-'}, {"fire.speed_rpm", '-'}});
  check("plug fouls", parameter("plug_leak_ohm", 1e6, 1e3), {{"fire.reserve_volt", '-'}, {"fire.spark_margin", '-'}});
  check("gap widens", parameter("demand_volt", 3e3, 19e3),
        {{"fire.spark_margin", '-'}, {"fire.plug_volt_spark", '+'}, {"fire.primary_current", '-'}});
  check("secondary leaks", parameter("secondary_leak_ohm", 1e6, 1e4),
        {{"fire.reserve_volt", '-'}, {"fire.coil_reserve_volt", '-'}});
  check("storage capacitor leaks", parameter("capacitor_leak_ohm", 1e5, 1e3),
        {{"charge.capacitor_volt", '-'}, {"fire.primary_volt", '-'}});
  check("lead breaks", parameter("lead_break_volt", 500, 15e3),
        {{"fire.spark_margin", '-'}, {"fire.reserve_volt", '-'}, {"fire.plug_volt_spark", '+'}});
  check("cap tracks", parameter("cap_flash_volt", 15e3, 2e3),
        {{"fire.spark_margin", '-'}, {"fire.coil_reserve_volt", '-'}});
  const auto leak = [](const char* node, double from, double to) {
    return Set([=](FamilyClient& c, double s) {
      build_healthy_harness(c);
      c.harness.join(node, "earth", between(from, to, s));
    });
  };
  check("kill circuit leaks", leak("control_module.source", 1e4, 1),
        {{"charge.source_volt", '-'}, {"charge.capacitor_volt", '-'}, {"fire.spark_margin", '-'}});
  check("coil wire chafes", leak("control_module.coil_out", 100, 0.2),
        {{"fire.primary_volt", '-'}, {"fire.reserve_volt", '-'}});
  const auto joint = [](const char* a, const char* b, double from, double to) {
    return Set([=](FamilyClient& c, double s) { build_joint(c, a, b, between(from, to, s)); });
  };
  check("coil wire corrodes", joint("control_module.coil_out", "ignition_coil.primary", 0.05, 300),
        {{"fire.primary_volt", '-'},
         {"fire.primary_current", '-'},
         {"fire.reserve_volt", '-'},
         {"fire.coil_out_volt", '+'}});
  check("coil earth corrodes", joint("ignition_coil.ground", "earth", 0.05, 10),
        {{"fire.coil_ground_volt", '+'}, {"fire.reserve_volt", '-'}, {"fire.primary_current", '-'}});
  check("module earth corrodes", joint("control_module.ground", "earth", 0.05, 10),
        {{"fire.ground_volt", '+'}, {"fire.reserve_volt", '-'}});
}

TEST_CASE("wild but positive inputs give finite, positive answers", "[plugins][property]") {
  const std::uint32_t seed = 20240611;
  INFO("seed " << seed);
  std::mt19937 random(seed);
  std::uniform_real_distribution<double> uniform(0, 1);
  const auto decades = [&](double low, double high) { return between(low, high, uniform(random)); };
  FamilyClient c;
  const auto typical = c.parameter;
  const auto outputs = c.rows<ls_stage_output_v1>(LS_STAGE_OUTPUTS);
  for (int round = 0; round < 3000; ++round) {
    c.parameter = typical;
    for (auto& [id, value] : c.parameter)
      if (uniform(random) < 0.2) value *= decades(1e-4, 1e4);
    c.parameter["cranking_speed_rpm"] = decades(20, 20000);
    c.parameter["turns_ratio_one"] = decades(10, 300);
    c.linear_volts["control_module.gate|control_module.ground"] = decades(1e-9, 100);
    c.harness = {};
    for (const auto& [p, q] : {std::pair{"exciter.hot", "control_module.source"},
                               {"exciter.foot", "earth"},
                               {"control_module.ground", "earth"},
                               {"control_module.coil_out", "ignition_coil.primary"},
                               {"ignition_coil.ground", "earth"},
                               {"control_module.source", "earth"},
                               {"control_module.coil_out", "earth"},
                               {"control_module.source", "control_module.ground"}})
      if (uniform(random) < 0.7) c.harness.join(p, q, decades(1e-4, 1e12));
    REQUIRE_NOTHROW(c.run(round % 10 == 0));
    for (const auto& o : outputs) {
      const auto found = c.outputs().find(std::string(o.stage) + "." + o.id);
      if (found == c.outputs().end() || o.kind == LS_OUTPUT_MARGIN) continue;
      if (o.kind == LS_OUTPUT_TERMINAL_VOLTS) {  // signed: a current leaves one terminal where it enters another
        if (!std::isfinite(found->second)) FAIL(found->first << " is " << found->second << " in round " << round);
        continue;
      }
      if (!(found->second > 0)) FAIL(found->first << " is " << found->second << " in round " << round);
    }
  }
  SUCCEED();
}

TEST_CASE("inputs that are no numbers, zero or negative are refused by stage and position", "[plugins][fault]") {
  FamilyClient c;
  build_healthy_harness(c);
  c.run(true);
  const auto stages = c.rows<ls_stage_v1>(LS_STAGES);
  for (std::size_t s = 0; s < stages.size(); ++s) {
    const auto good = c.last_inputs(s);
    std::vector<double> out(200, 0.0);
    auto bad = good;
    bad[0] = std::numeric_limits<double>::quiet_NaN();
    CHECK_THROWS_WITH(c.evaluate(static_cast<std::int32_t>(s), bad, out),
                      Catch::Matchers::Contains(stages[s].id) && Catch::Matchers::Contains("input 0"));
    const std::string id = stages[s].id;
    const std::size_t scalar = id == "fire" ? good.size() - 1 : id == "spark" ? 1 : 0;
    for (double value : {0.0, -1.0}) {
      bad = good;
      bad[scalar] = value;
      CHECK_THROWS_WITH(c.evaluate(static_cast<std::int32_t>(s), bad, out),
                        Catch::Matchers::Contains("more than zero"));
    }
  }
}

TEST_CASE("evaluating twice gives the same bits", "[plugins][property]") {
  FamilyClient c;
  build_healthy_harness(c);
  const auto first = c.run(true);
  CHECK(c.run(true) == first);
}
