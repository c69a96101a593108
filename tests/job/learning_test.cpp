// What a shop learns from its jobs, on the trail bike: healthy values, closed cases, sets of shares, replay.
#include <cmath>
#include <fstream>
#include <sstream>

#include "base/error.hpp"
#include "catch_all.hpp"
#include "job/auto_run.hpp"
#include "job/csv.hpp"
#include "job/fault_class.hpp"
#include "job/memory.hpp"
#include "job/minutes.hpp"
#include "job/shares.hpp"
#include "learning/pattern.hpp"
#include "sources/load.hpp"

using namespace lostspark;
using namespace lostspark::job;

namespace {

constexpr const char* k_vehicle = "quillmarsh_trail_125";
constexpr const char* k_peak = "exciter_peak@control_module.source";
constexpr const char* k_ohm = "exciter_ohm@stator_connector.exciter_side";

struct Shop {
  std::unique_ptr<history::Store> store = history::open_memory();
  int clock = 0;
  Desk desk;
  Shop()
      : desk(vehicle_source(sources::default_folders()), *store, sources::default_workshop(sources::default_folders()),
             options()) {}
  DeskOptions options() {
    DeskOptions out;
    out.now = [this] {
      char text[32];
      std::snprintf(text, sizeof text, "2026-02-01T10:%02d:%02dZ", clock / 60 % 60, clock % 60);
      ++clock;
      return std::string(text);
    };
    return out;
  }
  Job open() {
    Intake intake;
    intake.complaints = {"no_spark"};
    return desk.open(k_vehicle, intake);
  }
  history::Knowledge& knowledge() { return store->knowledge(); }
};

const HealthyView& band(const std::vector<HealthyView>& all, const std::string& test) {
  for (const auto& b : all)
    if (b.test_id == test) return b;
  throw InternalError("no band of " + test);
}

double width(const HealthyView& b) { return std::log(b.high / b.low); }

/// Coil replaced; the check afterwards.
void replace_coil(Job& job, bool cured) {
  job.repaired("ignition_coil.replace");
  job.check(cured ? "passed" : "failed");
}

void close_fixed(Job& job) {
  for (const auto& stop : job.stops())
    if (job.stops_needed() && !stop.recorded) job.stop_checked(stop.id);
  job.close(Outcome::fixed);
}

}  // namespace

TEST_CASE("one healthy reading narrows the band a little, ten narrow it a lot and move it", "[job][property]") {
  Shop shop;
  const auto before = band(bands(shop.desk, k_vehicle), k_peak);
  CHECK(before.readings == 0);
  record_baseline(shop.desk, k_vehicle, k_peak, "200", {});
  const auto one = band(bands(shop.desk, k_vehicle), k_peak);
  CHECK(one.origin == "shop (1)");
  CHECK(width(one) < width(before));
  CHECK(width(one) > 0.7 * width(before));
  for (int i = 0; i < 9; ++i) record_baseline(shop.desk, k_vehicle, k_peak, std::to_string(170 + i % 3 * 4), {});
  const auto ten = band(bands(shop.desk, k_vehicle), k_peak);
  CHECK(width(ten) < 0.75 * width(before));
  CHECK(ten.median < 190);
  CHECK(ten.low > 110);
}

TEST_CASE("a learned source reaches readings that were never taken, and leaves others alone", "[job][property]") {
  Shop shop;
  const auto before = bands(shop.desk, k_vehicle);
  for (int i = 0; i < 10; ++i) record_baseline(shop.desk, k_vehicle, k_peak, std::to_string(160 + i), {});
  const auto after = bands(shop.desk, k_vehicle);
  const std::string upstream = "exciter_peak@stator_connector.exciter_side";
  CHECK(band(after, upstream).median < 0.9 * band(before, upstream).median);
  CHECK(band(after, upstream).readings == 0);
  CHECK(band(after, k_ohm).low == Approx(band(before, k_ohm).low));
  CHECK(band(after, k_ohm).high == Approx(band(before, k_ohm).high));
}

TEST_CASE("a file that the shop's readings contradict is outvoted and reported", "[job][property]") {
  Shop shop;
  for (int i = 0; i < 2; ++i) record_baseline(shop.desk, k_vehicle, k_peak, "95", {});
  CHECK(band(bands(shop.desk, k_vehicle), k_peak).contradiction.empty());  // two are not enough
  for (int i = 0; i < 8; ++i) record_baseline(shop.desk, k_vehicle, k_peak, std::to_string(92 + i), {});
  const auto b = band(bands(shop.desk, k_vehicle), k_peak);
  CHECK(b.contradiction.find("10 healthy readings") != std::string::npos);
  CHECK(b.median < 130);  // the file alone says about 223
  CHECK(b.stated_low == 120);
  CHECK(b.stated_origin == "service data");
}

TEST_CASE("a job is opened with what was learned and replays on it whatever is learned later", "[job][regress]") {
  Shop shop;
  for (int i = 0; i < 10; ++i) record_baseline(shop.desk, k_vehicle, k_peak, std::to_string(160 + i), {});
  auto job = shop.open();
  CHECK_FALSE(job.learned().empty());
  job.record(k_peak, "100");
  const auto suspects = job.suspects();
  const auto title = job.step(job.test(k_peak)).healthy;
  for (int i = 0; i < 10; ++i) record_baseline(shop.desk, k_vehicle, k_peak, "300", {});
  const auto again = shop.desk.load(job.id());
  const auto same = again.suspects();
  REQUIRE(same.size() == suspects.size());
  for (std::size_t i = 0; i < same.size(); ++i) {
    CHECK(same[i].mode_id == suspects[i].mode_id);
    CHECK(same[i].probability == suspects[i].probability);  // the very same numbers
  }
  CHECK(again.step(again.test(k_peak)).healthy == title);
  REQUIRE_FALSE(title.empty());
  CHECK(title[0].find("shop (10)") != std::string::npos);
  // 100 V is a weak source for a file that expects 223; less so for a shop that has seen 165.
  Shop blank;
  auto plain = blank.open();
  CHECK(plain.learned().empty());
  plain.record(k_peak, "100");
  CHECK(job.posterior().nothing_wrong() != plain.posterior().nothing_wrong());
}

TEST_CASE("words, ends of the scale and unknown tests are refused as healthy values", "[job][unit]") {
  Shop shop;
  CHECK_THROWS_AS(record_baseline(shop.desk, k_vehicle, k_peak, "below", {}), InputError);
  CHECK_THROWS_AS(record_baseline(shop.desk, k_vehicle, k_peak, "150..200", {}), InputError);
  CHECK_THROWS_AS(record_baseline(shop.desk, k_vehicle, "exciter_peak@nowhere", "150", {}), InputError);
  CHECK(shop.knowledge().baselines("").empty());
}

TEST_CASE("a filled-in sheet is stored whole or not at all", "[job][unit]") {
  Shop shop;
  std::string csv = baseline_csv(shop.desk, k_vehicle);
  const auto fill = [&](const std::string& test, const std::string& value) {
    const auto at = csv.find(test + ",");
    REQUIRE(at != std::string::npos);
    csv.insert(at + test.size() + 1, value);
  };
  fill(k_peak, "0.2 k");
  fill(k_ohm, "301");
  CHECK(import_baselines(shop.desk, k_vehicle, csv, "sheet.csv") == 2);
  const auto stored = shop.knowledge().baselines(k_vehicle);
  REQUIRE(stored.size() == 2);
  CHECK(stored[0].individual == stored[1].individual);  // one sheet, one vehicle
  CHECK(stored[0].source == "imported");
  const std::string bad = "test,value\n" + std::string(k_peak) + ",200\n" + k_peak + ",many\nno_such_test,3\n";
  std::string message;
  try {
    import_baselines(shop.desk, k_vehicle, bad, "bad.csv");
  } catch (const InputError& e) {
    message = e.what();
  }
  CHECK(message.find("bad.csv, row 3") != std::string::npos);
  CHECK(message.find("bad.csv, row 4") != std::string::npos);
  CHECK(shop.knowledge().baselines(k_vehicle).size() == 2);
  CHECK_THROWS_AS(import_baselines(shop.desk, k_vehicle, "what,value\n", "odd.csv"), InputError);
}

TEST_CASE("CSV fields with commas, quotes and line ends come back", "[job][property]") {
  const std::vector<std::string> row{"a,b", "say \"no\"", "two\nlines", "", "plain", "semi;colon"};
  CHECK(read_csv(csv_line(row), "x") == std::vector<std::vector<std::string>>{row});
  CHECK(read_csv("a;b\n1;2\n", "x")[1] == std::vector<std::string>{"1", "2"});
  CHECK_THROWS_AS(read_csv("a,\"b\n", "x"), InputError);
}

TEST_CASE("a coil that cured, failed again when refitted and cured again is proved", "[job][unit]") {
  Shop shop;
  auto job = shop.open();
  replace_coil(job, true);
  job.returned("ignition_coil.replace");
  job.check("failed");
  replace_coil(job, true);
  close_fixed(job);
  const auto taught = remember(shop.desk, job);
  REQUIRE(taught);
  CHECK(taught->closed.confirmed == "proved");
  CHECK(taught->closed.faults.starts_with("ignition_coil."));
  CHECK(taught->closed.for_nothing.empty());
  for (const auto& entry : learning::read_pattern(taught->closed.pattern)) {
    bool coil = false;
    for (const auto& c : entry.classes) coil = coil || c.starts_with("SEC.") || c.starts_with("PRI.");
    CAPTURE(taught->closed.pattern);
    CHECK(coil);
  }
}

TEST_CASE("that it worked afterwards confirms nothing: the contacts were moved on the way", "[job][unit]") {
  Shop shop;
  auto job = shop.open();
  replace_coil(job, true);
  close_fixed(job);
  const auto taught = remember(shop.desk, job);
  REQUIRE(taught);
  CHECK(taught->closed.confirmed.empty());
  bool contact = false;
  for (const auto& entry : learning::read_pattern(taught->closed.pattern))
    for (const auto& c : entry.classes) contact = contact || (c == "connector.corroded" && entry.likelihood > 1e-3);
  CAPTURE(taught->closed.pattern);
  CHECK(contact);
}

TEST_CASE("the stored likelihoods do not depend on what was believed", "[job][property]") {
  // The same log, once on the files' shares, once under a set that triples corroded contacts.
  std::vector<std::string> patterns;
  for (const bool with_set : {false, true}) {
    Shop shop;
    if (with_set) {
      ShareSet set{"odd", "2026-01-01T00:00:00Z", "", {}, {}};
      set.families["ac_cdi"] = {"ac_cdi", 100, {{"connector.corroded", 3.0}}};
      import_set(shop.desk, set);
      apply_shares(shop.desk, shop.knowledge(), "odd", "");
    }
    auto job = shop.open();
    CHECK(job.learned().set == (with_set ? "odd" : ""));
    job.record(k_peak, "210");
    replace_coil(job, true);
    close_fixed(job);
    patterns.push_back(remember(shop.desk, job)->closed.pattern);
  }
  const auto a = learning::read_pattern(patterns[0]), b = learning::read_pattern(patterns[1]);
  std::size_t compared = 0;
  for (const auto& x : a)
    for (const auto& y : b)
      if (x.classes == y.classes && x.classes.size() < 2 && x.likelihood > 1e-3) {
        ++compared;
        CAPTURE(x.classes.empty() ? "-" : x.classes[0], patterns[0], patterns[1]);
        // Rounding is 9 % each; common causes, which no set changes, shift the split within a class a little.
        CHECK(std::abs(std::log(x.likelihood / y.likelihood)) < 0.4);
      }
  CHECK(compared > 5);
}

TEST_CASE("readings after the repair that passed its check become healthy values, all of them", "[job][unit]") {
  Shop shop;
  auto job = shop.open();
  job.record(k_peak, "60");
  job.repaired("exciter.replace");
  job.record(k_peak, "190");
  job.record(k_ohm, "420");  // looks bad; it is taken all the same
  job.check("passed");
  close_fixed(job);
  const auto taught = remember(shop.desk, job);
  REQUIRE(taught);
  CHECK(taught->healthy_readings == 2);
  const auto stored = shop.knowledge().baselines(k_vehicle);
  REQUIRE(stored.size() == 2);
  CHECK(stored[0].value == 190);
  CHECK(stored[1].value == 420);
  CHECK(stored[1].job == job.id());
  remember(shop.desk, job);  // again: still two
  CHECK(shop.knowledge().baselines(k_vehicle).size() == 2);
  job.undo();
  CHECK(catch_up(shop.desk).dropped == 1);
  CHECK(shop.knowledge().baselines(k_vehicle).empty());
  CHECK_FALSE(shop.knowledge().find_case("", job.id()));
}

TEST_CASE("sets are applied, set aside and rolled back; jobs remember theirs", "[job][unit]") {
  Shop shop;
  CHECK_THROWS_AS(apply_shares(shop.desk, shop.knowledge(), "empty", ""), InputError);
  CHECK_THROWS_AS(roll_back(shop.desk), InputError);
  CHECK_FALSE(set_aside(shop.desk));
  auto job = shop.open();
  replace_coil(job, true);
  job.returned("ignition_coil.replace");
  job.check("failed");
  replace_coil(job, true);
  close_fixed(job);
  CHECK(catch_up(shop.desk).remembered == 1);
  CHECK(catch_up(shop.desk).remembered == 0);
  CHECK_THROWS_AS(apply_shares(shop.desk, shop.knowledge(), "bad name", ""), InputError);
  const auto first = apply_shares(shop.desk, shop.knowledge(), "first", "one job");
  CHECK(first.networks.at(k_vehicle).faults == Approx(1).margin(0.2));
  CHECK(set_in_use(shop.knowledge())->name == "first");
  const auto opened = shop.open();
  CHECK(opened.learned().set == "first");
  const auto filed = shop.desk.vehicle(k_vehicle);
  double coil_before = 0, coil_after = 0, all_before = 0, all_after = 0;
  for (std::size_t m = 0; m < filed->modes.size(); ++m) {
    all_before += filed->modes[m].share;
    all_after += opened.vehicle().modes[m].share;
    if (!filed->modes[m].id.starts_with("ignition_coil.")) continue;
    coil_before += filed->modes[m].share;
    coil_after += opened.vehicle().modes[m].share;
  }
  CHECK(coil_after > coil_before);
  CHECK(coil_after < 3 * coil_before);  // one job is one job
  CHECK(all_after == Approx(all_before));
  CHECK(set_aside(shop.desk));
  CHECK_FALSE(set_in_use(shop.knowledge()));
  CHECK(roll_back(shop.desk)->name == "first");
  CHECK_FALSE(roll_back(shop.desk));  // before the first: the files
  CHECK(shop.desk.load(opened.id()).learned().set == "first");
  CHECK(shop.desk.load(opened.id()).learned().shares.size() == filed->modes.size());
}

TEST_CASE("how long a step took is noted, corrected and taken back; the last word holds", "[job][unit]") {
  Shop shop;
  auto job = shop.open();
  CHECK_THROWS_AS(job.took("5"), InputError);  // nothing was done yet
  const auto first = job.record(k_peak, "210").sequence;
  const double planned = job.state().minutes;
  CHECK(planned > 0);
  CHECK_THROWS_AS(job.took("long"), InputError);
  CHECK_THROWS_AS(job.took("0"), InputError);
  CHECK_THROWS_AS(job.took("5", 1), InputError);  // the opening
  CHECK(job.took("21,5 min").text.starts_with("took 21.5 min: "));
  CHECK(job.state().minutes == 21.5);
  const auto last_word = job.took("18").sequence;
  CHECK(job.state().minutes == 18);
  job.strike(last_word, "");
  CHECK(job.state().minutes == 21.5);
  job.undo();  // the striking
  CHECK(job.state().minutes == 18);
  job.record(k_ohm, "300");
  CHECK(job.state().minutes > 18);
  job.took("30", first);
  const double with_second = job.state().minutes;
  job.took("1");
  CHECK(job.state().minutes == 31);
  CHECK(with_second > 31);
  CHECK(job.history().back().text.find(" took 1 min") != std::string::npos);
  CHECK(shop.desk.load(job.id()).state().minutes == 31);
}

TEST_CASE("noted minutes of closed jobs reach the next job through a set and leave with it", "[job][property]") {
  Shop shop;
  const auto filed = shop.desk.vehicle(k_vehicle);
  const auto access = [](const Job& job) { return job.step(job.test(k_peak)).access_min; };
  const auto job_that_took = [&](double times) {
    auto job = shop.open();
    job.record(k_peak, "210");
    const double planned = job.state().minutes;
    job.took(std::to_string(times * planned));
    job.close(Outcome::referred_on);
    const auto taught = remember(shop.desk, job);
    REQUIRE(taught);
    CHECK(taught->noted_steps == 1);
    return job.id();
  };
  const double before = access(shop.open());
  for (int i = 0; i < 10; ++i) job_that_took(2);
  CHECK(access(shop.open()) == before);  // nothing acts before it is applied
  const auto learned = learn_minutes(shop.knowledge());
  CHECK(learned.steps == 10);
  REQUIRE_FALSE(learned.rows.empty());
  CHECK(learned.never.median > 1.1);
  for (const auto& r : learned.rows) {
    CAPTURE(r.where, r.item, r.factor.median);
    CHECK(r.steps == 10);
    CHECK(r.where == (r.item.starts_with("cover.") ? k_vehicle : "ac_cdi"));
    CHECK(r.factor.low < r.factor.median);
    CHECK(r.factor.median < r.factor.high);
  }
  apply_shares(shop.desk, shop.knowledge(), "slow", "");
  auto slow = shop.open();
  CHECK(slow.learned().set == "slow");
  CHECK(access(slow) > 1.7 * before);
  CHECK(access(slow) < 2.2 * before);
  const auto& repair = slow.vehicle().repairs[static_cast<std::size_t>(slow.repair("ignition_coil.replace"))];
  const auto& as_filed = filed->repairs[static_cast<std::size_t>(*filed->find_repair("ignition_coil.replace"))];
  CHECK(repair.labour_min == Approx(learned.never.median * as_filed.labour_min));  // never noted: the shop's speed
  // What the job was planned with is taken out again: the same step has the same items under the set.
  const auto under_set = job_that_took(1);
  std::map<std::string, std::string> items;
  shop.knowledge().each_step_minutes([&](const history::StepMinutes& s) { items[s.job] = s.items; });
  CHECK(items.size() == 11);
  CHECK(items.at(under_set) == items.begin()->second);
  CHECK(set_aside(shop.desk));
  CHECK(access(shop.open()) == before);
  CHECK(access(shop.desk.load(slow.id())) == access(slow));  // an open job keeps its own
  // A job that is opened again teaches nothing until it closes.
  auto again = shop.desk.load(under_set);
  again.undo();
  CHECK(catch_up(shop.desk).dropped == 1);
  CHECK(learn_minutes(shop.knowledge()).steps == 10);
}

TEST_CASE("a set survives its TOML", "[job][property]") {
  ShareSet set{"spring", "2026-03-01T00:00:00Z", "said \"so\"", {}, {}};
  set.networks["bike"] = {"ac_cdi", 12.25, {{"connector.corroded", 1.375}, {"PRI.open", 1e-3}}};
  set.families["ac_cdi"] = {"ac_cdi", 12.25, {{"wire.open", 0.7}}};
  set.minutes = {1.125, {{"bike", {{"cover.seat", 1.5}}}}, {{"ac_cdi", {{"test.exciter_peak", 0.75}}}}};
  const auto back = set_from_toml(set_toml(set), "set.toml");
  CHECK(back.name == set.name);
  CHECK(back.note == set.note);
  CHECK(back.networks.at("bike").factors == set.networks.at("bike").factors);
  CHECK(back.families.at("ac_cdi").factors == set.families.at("ac_cdi").factors);
  CHECK(back.networks.at("bike").faults == 12.25);
  CHECK(back.minutes == set.minutes);
  const ShareSet minutes_only{"quick", "2026-03-01T00:00:00Z", "", {}, {}, set.minutes};
  CHECK(set_from_toml(set_toml(minutes_only), "set.toml").minutes == set.minutes);
  for (const char* bad : {"[minutes]\nall = 0\n", "[minutes.network.a]\nb = 'slow'\n", "minutes = 3\n"})
    CHECK_THROWS_AS(set_from_toml(std::string("format = 1\nname = 'x'\n") + bad, "x"), InputError);
  CHECK_THROWS_AS(set_from_toml("format = 1\nname = 'x'\n", "x"), InputError);
  CHECK_THROWS_AS(set_from_toml("format = 2\n", "x"), InputError);
  CHECK_THROWS_AS(set_from_toml("format = 1\nname = 'x'\n[[network]]\nid = 'a'\n[network.factors]\na = 'much'\n", "x"),
                  InputError);
  CHECK_THROWS_AS(set_from_toml("format = ", "x"), InputError);
}

TEST_CASE("every mode of the trail bike has a class without characters of the pattern", "[job][unit]") {
  const auto v = sources::load_vehicle(sources::default_folders(), k_vehicle);
  double sum = 0;
  for (const auto& [name, odds] : class_odds(*v)) {
    CAPTURE(name);
    CHECK(name.find_first_of(" +:") == std::string::npos);
    CHECK(name.find('.') != std::string::npos);
    sum += odds;
  }
  double all = 0;
  for (const double o : mode_odds(*v)) all += o;
  CHECK(sum == Approx(all));
}
