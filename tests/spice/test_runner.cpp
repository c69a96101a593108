// The runner itself: what it says when things go wrong, and the skip when ngspice is not installed.
#include <fmt/format.h>
#include <unistd.h>

#include <cstdlib>
#include <filesystem>
#include <iostream>
#include <stdexcept>
#include <string>

#define CATCH_CONFIG_EXTERNAL_INTERFACES  // Catch2 2.13: the listener's base class
#include "catch_all.hpp"
#include "spice/deck.hpp"
#include "spice/ngspice.hpp"

using namespace lostspark::spice;

namespace {

#ifdef LOSTSPARK_CATCH2_V3
using ListenerBase = Catch::EventListenerBase;
#else
using ListenerBase = Catch::TestEventListenerBase;
#endif

/// Without ngspice nothing here can be judged: ctest is told "skipped" (SKIP_RETURN_CODE 77), never "passed".
struct SkipWithoutNgspice : ListenerBase {
  using ListenerBase::ListenerBase;
  void testRunStarting(const Catch::TestRunInfo&) override {
    if (find_ngspice()) return;
    std::cout << "SKIPPED: ngspice is not on PATH (Debian: apt install ngspice)" << std::endl;
    std::_Exit(77);
  }
};
CATCH_REGISTER_LISTENER(SkipWithoutNgspice)

std::string divider(double ohm) {
  Deck deck("divider");
  deck.line(fmt::format("V1 {} 0 SIN(0 10 1k)", Deck::node("top")));
  deck.resistor("upper", "top", "mid", ohm);
  deck.meter("m", "mid", "earth", 2e6, 1e-6);
  deck.line(".tran 1u 2m 0 1u UIC");
  deck.measure("peak", fmt::format("MAX {}", Deck::meter_volts("m")));
  return deck.text();
}

/// What an action that must fail says.
template <class Action>
std::string message_of(Action action) {
  try {
    action();
  } catch (const std::runtime_error& error) {
    return error.what();
  }
  return "no error";
}

}  // namespace

TEST_CASE("a meter of two megohms loads a two megohm source to half its volts", "[spice][unit]") {
  CHECK(run_deck(divider(2e6)).at("peak") == Approx(5.0).epsilon(0.005));  // 1 kHz: the 1 us pole costs 2e-5
}

TEST_CASE("results come back in the order of their decks", "[spice][unit]") {
  const auto runs = run_decks({divider(2e6), divider(1e3), divider(6e6)});
  CHECK(runs[0].at("peak") == Approx(5.0).epsilon(0.005));
  CHECK(runs[1].at("peak") == Approx(9.995).epsilon(0.005));
  CHECK(runs[2].at("peak") == Approx(2.5).epsilon(0.005));
}

TEST_CASE("a broken deck, a missing measurement and a run without end are errors that name what to look at",
          "[spice][fault]") {
  // Failed runs leave their folder for a look; here that folder is ours and goes.
  const auto folder = std::filesystem::temp_directory_path() / fmt::format("lostspark_spice_fault_{}", ::getpid());
  std::filesystem::create_directories(folder);
  const char* before = std::getenv("TMPDIR");
  const std::string restore = before ? before : "";
  ::setenv("TMPDIR", folder.c_str(), 1);
  const auto broken = message_of([] { (void)run_deck("nonsense\nQQ what is this\n.tran 1u 1m\n.end\n"); });
  CHECK(broken.find("ngspice gave no result") != std::string::npos);
  CHECK(broken.find("deck0.log") != std::string::npos);
  const auto missing = message_of([] { (void)run_deck(divider(1e3)).at("nothing"); });
  CHECK(missing.find("did not measure 'nothing'") != std::string::npos);
  Deck endless("endless");
  endless.line("V1 a 0 SIN(0 1 1k)\nR1 a 0 1k\n.tran 1u 1000 0 1u\n.meas tran x MAX v(a)");
  RunOptions options;
  options.timeout_second = 0.5;
  const auto late = message_of([&] { (void)run_deck(endless.text(), options); });
  if (before)
    ::setenv("TMPDIR", restore.c_str(), 1);
  else
    ::unsetenv("TMPDIR");
  std::filesystem::remove_all(folder);
  INFO(late);
  CHECK(late.find("time limit") != std::string::npos);
}
