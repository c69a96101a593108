// Files as people break them: whatever happens to a network file, it loads or is refused with places.
#include <algorithm>
#include <random>
#include <sstream>
#include <string>
#include <vector>

#include "base/error.hpp"
#include "catch_all.hpp"
#include "toy.hpp"

using namespace lostspark;

namespace {

std::vector<std::string> lines_of(const std::string& text) {
  std::vector<std::string> lines;
  std::istringstream in(text);
  for (std::string line; std::getline(in, line);) lines.push_back(line);
  return lines;
}

std::string joined(const std::vector<std::string>& lines) {
  std::string text;
  for (const auto& line : lines) text += line + '\n';
  return text;
}

// One slip of an editing hand.
void slip(std::vector<std::string>& lines, std::mt19937& random) {
  const auto pick = [&](std::size_t n) { return std::uniform_int_distribution<std::size_t>(0, n - 1)(random); };
  const auto i = pick(lines.size()), k = pick(lines.size());
  auto& line = lines[i];
  switch (pick(7)) {
    case 0:
      lines.erase(lines.begin() + static_cast<std::ptrdiff_t>(i));
      break;
    case 1:
      lines.insert(lines.begin() + static_cast<std::ptrdiff_t>(k), line);
      break;
    case 2:
      std::swap(lines[i], lines[k]);
      break;
    case 3:
      if (!line.empty()) line.erase(pick(line.size()), 1);
      break;
    case 4:
      if (!line.empty()) line[pick(line.size())] = "\"[]{}=.,-_ 09az\\#"[pick(17)];
      break;
    case 5:
      if (const auto digit = line.find_first_of("0123456789"); digit != std::string::npos)
        line.replace(digit, 1, std::vector<std::string>{"-1", "1e300", "nan", "inf", "\"x\"", "true", "[]"}[pick(7)]);
      break;
    default:
      if (const auto quote = line.find('"'); quote != std::string::npos) line.insert(quote + 1, lines[k].substr(0, 3));
  }
}

}  // namespace

TEST_CASE("a damaged network file loads or is refused with its places, and nothing else happens",
          "[sources][property]") {
  const unsigned seed = 20260117;
  CAPTURE(seed);
  std::mt19937 random(seed);
  int loaded = 0, refused = 0;
  for (int round = 0; round < 400; ++round) {
    auto lines = lines_of(test::toy_network());
    const int slips = 1 + round % 4;
    for (int s = 0; s < slips && lines.size() > 2; ++s) slip(lines, random);
    const auto text = joined(lines);
    try {
      const auto v = test::load_toy(text);
      ++loaded;
      CHECK(v->family == "toy");
    } catch (const InputError& error) {
      ++refused;
      const std::string message = error.what();
      if (!message.starts_with("toy.toml")) {
        CAPTURE(text);
        CHECK(message == "a message that begins with the file");
      }
    } catch (const Error& error) {
      CAPTURE(text, error.what());
      FAIL("another error than InputError");
    }
  }
  // Both happen, or the slips are too coarse or too fine to mean anything.
  CHECK(loaded > 20);
  CHECK(refused > 200);
}

TEST_CASE("a file cut before its last chain is refused, wherever it is cut", "[sources][property]") {
  const auto text = test::toy_network();
  const auto last_chain = text.rfind("[[chain]]");
  REQUIRE(last_chain != std::string::npos);
  for (std::size_t cut = 0; cut < last_chain; cut += 23) {
    INFO("cut at " << cut);
    CHECK_THROWS_AS(test::load_toy(text.substr(0, cut)), InputError);
  }
}
