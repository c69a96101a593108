#include "catch_all.hpp"
#include "cli/golden.hpp"

using lostspark::test::page_difference;

TEST_CASE("golden pages forgive rounding and times, and nothing else", "[cli][unit]") {
  CHECK(page_difference("suspects 71 % at 2026-01-02T10:00:00Z\n", "suspects 72 % at 2026-01-03T11:30:01Z\n").empty());
  CHECK(page_difference("150..200 V", "151..203 V").empty());
  CHECK(page_difference("0.52 bit", "0.53 bit").empty());
  CHECK_FALSE(page_difference("suspects 71 %", "suspects 78 %").empty());
  CHECK_FALSE(page_difference("trail_bike_125", "trail_bike_126").empty());
  CHECK_FALSE(page_difference("J0001", "J0002").empty());
  CHECK_FALSE(page_difference("a\nb\n", "a\n").empty());
  CHECK_FALSE(page_difference("kill wire", "kill  wire").empty());
}
