#include "job/reading_parser.hpp"

#include <cmath>
#include <limits>
#include <random>

#include "base/error.hpp"
#include "catch_all.hpp"
#include "fixtures.hpp"

using namespace lostspark;
using namespace lostspark::job;
using lostspark::job::test::number_test;
using lostspark::job::test::ohmmeter;
using lostspark::job::test::peak_meter;
using lostspark::job::test::spark_test;
using model::ValueKind;

namespace {

constexpr double k_infinity = std::numeric_limits<double>::infinity();

model::Value volts(const std::string& text) {
  const auto meter = peak_meter();
  return parse_reading(number_test(), &meter, text).value;
}
model::Value ohms(const std::string& text) {
  const auto meter = ohmmeter();
  return parse_reading(number_test("ohm"), &meter, text).value;
}
std::string complaint_of(const std::string& text) {
  try {
    (void)volts(text);
  } catch (const InputError& e) {
    return e.what();
  }
  return "";
}

bool same(const model::Value& a, const model::Value& b) {
  return a.kind == b.kind && a.number == b.number && a.low == b.low && a.high == b.high && a.kicks == b.kicks &&
         a.each == b.each && a.word == b.word && a.about == b.about;
}

}  // namespace

TEST_CASE("a single number is read in the test's unit or the one typed", "[job][unit]") {
  struct Row {
    const char* text;
    double value;
  };
  const auto row =
      GENERATE(Row{"168", 168}, Row{"168 V", 168}, Row{"168V", 168}, Row{" 168  volts ", 168}, Row{"0.17kV", 170},
               Row{"0,17 kV", 170}, Row{"0,17", 0}, Row{".9", 0.9}, Row{"1,5", 1.5}, Row{"900 mV", 0.9},
               Row{"1.68e2", 168}, Row{"168 V peak", 168}, Row{"168.", 168}, Row{"+168", 168}, Row{"0.2 k", 200});
  INFO(row.text);
  const auto value = volts(row.text);
  if (row.value == 0) {
    CHECK(value.kind == ValueKind::below_floor);
  } else {
    CHECK(value.kind == ValueKind::number);
    CHECK(value.number == Approx(row.value).epsilon(1e-12));
    CHECK_FALSE(value.about);
  }
}

TEST_CASE("ohms take k and M as people write them", "[job][unit]") {
  CHECK(ohms("212k").number == 212000);
  CHECK(ohms("212 kohm").number == 212000);
  CHECK(ohms("212 k\u03a9").number == 212000);
  CHECK(ohms("4,7k").number == Approx(4700));
  CHECK(ohms("1.2M").number == Approx(1.2e6));
  CHECK(ohms("800 mohm").number == Approx(0.8));
  CHECK(ohms("OL").kind == ValueKind::over_range);
  CHECK(ohms("open loop").kind == ValueKind::over_range);
  CHECK_THROWS_AS(ohms("1m"), InputError);  // one thousandth or one million: ask
}

TEST_CASE("kilovolt tests take kilovolts and volts", "[job][unit]") {
  const auto test = number_test("kilovolt");
  CHECK(parse_reading(test, nullptr, "8").value.number == 8);
  CHECK(parse_reading(test, nullptr, "8k").value.number == Approx(8));
  CHECK(parse_reading(test, nullptr, "8 kV").value.number == Approx(8));
  CHECK(parse_reading(test, nullptr, "8000 V").value.number == Approx(8));
}

TEST_CASE("intervals, estimates and limits are kept as such", "[job][unit]") {
  for (const auto* text : {"150..200", "150-200", "150 - 200 V", "200..150", "150 to 200", "between 150 and 200",
                           "0.15..0.2 kV", "150...200", "150\u2013200"}) {
    INFO(text);
    const auto value = volts(text);
    CHECK(value.kind == ValueKind::interval);
    CHECK(value.low == Approx(150));
    CHECK(value.high == Approx(200));
    CHECK_FALSE(value.about);
  }
  for (const auto* text : {"about 150", "~150", "*150", "approx. 150 V", "ca 150", "around 0.15 kV"}) {
    INFO(text);
    const auto value = volts(text);
    CHECK(value.kind == ValueKind::number);
    CHECK(value.number == Approx(150));
    CHECK(value.about);
  }
  for (const auto* text : {">250", "> 250 V", "250+", "over 250", "more than 250", "above 0.25 kV", ">=250"}) {
    INFO(text);
    const auto value = volts(text);
    CHECK(value.kind == ValueKind::interval);
    CHECK(value.low == Approx(250));
    CHECK(value.high == k_infinity);
  }
  for (const auto* text : {"<5", "5-", "below 5 V", "less than 5", "under 5"}) {
    INFO(text);
    const auto value = volts(text);
    CHECK(value.kind == ValueKind::interval);
    CHECK(value.low == 0);
    CHECK(value.high == Approx(5));
  }
  for (const auto* text : {"jumping 0..190", "0..190 jumping", "jumps 0 190 V", "*0..190", "jumping 0 to 0.19kV"}) {
    INFO(text);
    const auto value = volts(text);
    CHECK(value.kind == ValueKind::interval);
    CHECK(value.low == 0);
    CHECK(value.high == Approx(190));
    CHECK(value.about);
  }
}

TEST_CASE("several kicks keep the largest and each of them", "[job][unit]") {
  for (const auto* text :
       {"150 170 165", "150 170 165 V", "150/170/165", "150, 170, 165", "0.15 0.17 0.165 kV", "150; 170; 165"}) {
    INFO(text);
    const auto value = volts(text);
    CHECK(value.kind == ValueKind::number);
    CHECK(value.number == Approx(170));
    CHECK(value.kicks == 3);
    REQUIRE(value.each.size() == 3);
    CHECK(value.each[2] == Approx(165));
  }
  CHECK(volts("0 0 0").kind == ValueKind::below_floor);
  CHECK(volts("0/0/0").kicks == 3);
}

TEST_CASE("the instrument's ends turn numbers into below and over", "[job][unit]") {
  CHECK(volts("0").kind == ValueKind::below_floor);
  CHECK(volts("0.4").kind == ValueKind::below_floor);
  CHECK(volts("below").kind == ValueKind::below_floor);
  CHECK(volts("nothing").kind == ValueKind::below_floor);
  CHECK(volts("-").kind == ValueKind::below_floor);
  CHECK(volts("<0.5").kind == ValueKind::below_floor);
  CHECK(volts("401").kind == ValueKind::over_range);
  CHECK(volts("over").kind == ValueKind::over_range);
  CHECK(volts("+").kind == ValueKind::over_range);
  CHECK(volts(">400").kind == ValueKind::over_range);
  CHECK(volts("300..500").high == k_infinity);
  CHECK(volts("0.2..30").low == 0);
}

TEST_CASE("what cannot be a reading is refused with what was expected", "[job][unit]") {
  for (const auto* text :
       {"",        "   ",     "-5",    "-0.3 V", "168 A",         "168 ohm", "168 parsec", "nan",      "-inf",
        "abc",     "1.2.3",   "150..", "..150",  "150..160..170", "about",   "> 5 6",      "about >5", "jumping 5",
        "168 V V", "5000000", "50 kV", "1e400",  "150 / / 160",   "0..over", ">0"}) {
    INFO(text);
    const auto message = complaint_of(text);
    CHECK_FALSE(message.empty());
    CHECK(message.find("expected a value in V, mV or kV") != std::string::npos);
    CHECK(message.find("exciter_peak@control_module.source") != std::string::npos);
  }
  CHECK(complaint_of("168 A").find("a unit of current") != std::string::npos);
  CHECK(complaint_of("50 kV").find("100 times") != std::string::npos);
  CHECK(complaint_of("-5").find("negative") != std::string::npos);
}

TEST_CASE("the echo shows what was understood", "[job][unit]") {
  const auto meter = peak_meter();
  CHECK(parse_reading(number_test(), &meter, "0,17 kV").echo == "170 V");
  CHECK(parse_reading(number_test(), &meter, "0.2").echo == "below (under 0.5 V)");
  CHECK(parse_reading(number_test(), &meter, "900").echo == "over (above 400 V)");
  const auto ohm = ohmmeter();
  CHECK(parse_reading(number_test("ohm"), &ohm, "212000").echo == "212 kohm");
}

TEST_CASE("word tests take the word, its beginning, its number and everyday words", "[job][unit]") {
  struct Row {
    const char* text;
    std::size_t word;
  };
  const auto row =
      GENERATE(Row{"none", 0}, Row{"1", 0}, Row{"0", 0}, Row{"-", 0}, Row{"no spark", 0}, Row{"2", 1}, Row{"irr", 1},
               Row{"Irregular", 1}, Row{"weak", 1}, Row{"steady", 2}, Row{"3", 2}, Row{"+", 2}, Row{"good", 2});
  INFO(row.text);
  const auto typed = parse_reading(spark_test(), nullptr, row.text);
  CHECK(typed.value.kind == ValueKind::word);
  CHECK(typed.value.word == row.word);
  CHECK_THROWS_AS(parse_reading(spark_test(), nullptr, "4"), InputError);
  CHECK_THROWS_AS(parse_reading(spark_test(), nullptr, "168"), InputError);
  CHECK_THROWS_WITH(parse_reading(spark_test(), nullptr, "purple"),
                    Catch::Contains("expected 1 none, 2 irregular or 3 steady"));
}

TEST_CASE("a value put into words reads back as the same value", "[job][property]") {
  std::mt19937_64 random(20260401);
  std::lognormal_distribution<double> number(3, 2);
  const auto meter = peak_meter();
  int ends = 0;
  for (int i = 0; i < 2000; ++i) {
    INFO("draw " << i << " of seed 20260401");
    const double a = number(random), b = number(random);
    std::string typed;
    switch (i % 7) {
      case 0:
        typed = std::to_string(a);
        break;
      case 1:
        typed = std::to_string(a) + ".." + std::to_string(b);
        break;
      case 2:
        typed = "about " + std::to_string(a);
        break;
      case 3:
        typed = std::to_string(a) + " " + std::to_string(b) + " " + std::to_string(a / 2);
        break;
      case 4:
        typed = ">" + std::to_string(a);
        break;
      case 5:
        typed = "<" + std::to_string(a);
        break;
      default:
        typed = "jumping " + std::to_string(a) + ".." + std::to_string(b);
    }
    INFO(typed);
    model::Value value;
    try {
      value = parse_reading(number_test(), &meter, typed).value;
    } catch (const InputError&) {
      continue;  // "0.2..900" covers all the meter shows
    }
    ends += value.kind == ValueKind::below_floor || value.kind == ValueKind::over_range;
    const auto text = reading_text(number_test(), value);
    INFO(text);
    CHECK(same(parse_reading(number_test(), &meter, text).value, value));
  }
  CHECK(ends > 20);
}

TEST_CASE("numbers in ohms read back exactly through their prefix", "[job][property]") {
  std::mt19937_64 random(7);
  std::lognormal_distribution<double> number(9, 3);
  for (int i = 0; i < 2000; ++i) {
    model::Value value;
    value.number = i % 2 == 0 ? std::round(number(random)) + 1 : number(random);
    INFO("draw " << i << " of seed 7: " << reading_text(number_test("ohm"), value));
    CHECK(same(parse_reading(number_test("ohm"), nullptr, reading_text(number_test("ohm"), value)).value, value));
  }
}
