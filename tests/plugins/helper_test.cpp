// The authors' helper: what a family written with it does when things go wrong, and the header seen from C.
#include <cstring>
#include <limits>

#include "catch_all.hpp"
#include "lostspark_plugin.hpp"

extern "C" std::uint32_t abi_size_in_c(std::int32_t what);

namespace {

using namespace lostspark::plugin;

/// Misbehaves on demand: the first input says how.
class Moody : public Family {
 public:
  static constexpr const char* k_id = "moody";
  static constexpr const char* k_title = "moody";
  static constexpr const char* k_description = "for tests";
  static std::vector<ls_option_v1> options() {
    return {{"cylinders", "integer", "2", "1..4", ""},
            {"start", "choice", "kick", "kick|recoil", ""},
            {"lamp", "bool", "false", "", ""}};
  }
  explicit Moody(const Settings& chosen) {
    if (chosen.flag("lamp")) throw std::runtime_error("no lamp today");
    {
      const std::string passing = "cylinder_count_" + chosen.text("cylinders");  // gone before the host reads it
      tables_.add(
          ls_parameter_v1{.id = passing.c_str(), .unit = "one", .typical = double(chosen.integer("cylinders"))});
    }
    tables_.stage("mood", "mood");
    tables_.input(LS_INPUT_PARAMETER, "how");
    tables_.input(LS_INPUT_TERMINAL, "a.b");
    tables_.input(LS_INPUT_TERMINAL, "a.c");
    tables_.output("answer", LS_OUTPUT_VALUE, "one", "");
    tables_.output("other", LS_OUTPUT_VALUE, "one", "");
  }
  void evaluate(int, const double* in, double* out) const override {
    if (in[0] == 1) throw std::runtime_error("a mood");
    if (in[0] == 2) throw 2;
    out[0] = in[0] == 3 ? std::numeric_limits<double>::quiet_NaN() : in[3];
    out[1] = in[0] == 4 ? std::numeric_limits<double>::infinity() : 1;
  }
};

struct Host {
  const ls_family_v1* family = static_cast<const ls_family_v1*>(query<Moody>(LS_FAMILY_INTERFACE));
  char text[64] = "";
  ls_message message{text, sizeof text};
  ls_instance* make(std::vector<ls_setting> settings = {}) {
    return family->create(settings.data(), static_cast<std::int32_t>(settings.size()), &message);
  }
};

}  // namespace

TEST_CASE("the C header means the same to C11 and to C++", "[plugins][unit]") {
  CHECK(abi_size_in_c(0) == sizeof(ls_entry_v1));
  CHECK(abi_size_in_c(1) == sizeof(ls_family_v1));
  CHECK(abi_size_in_c(2) == sizeof(ls_parameter_v1));
  CHECK(abi_size_in_c(3) == sizeof(ls_test_kind_v1));
  CHECK(abi_size_in_c(4) == sizeof(ls_mode_v1));
  CHECK(abi_size_in_c(5) == sizeof(ls_element_v1));
  CHECK(abi_size_in_c(6) == sizeof(ls_link_v1));
}

TEST_CASE("an interface the plugin does not know is answered with null", "[plugins][unit]") {
  CHECK(query<Moody>("lostspark.family/7") == nullptr);
  CHECK(query<Moody>(nullptr) == nullptr);
  CHECK(query<Moody>(LS_FAMILY_INTERFACE) != nullptr);
}

TEST_CASE("options outside what the family offers are refused by name", "[plugins][fault]") {
  Host host;
  for (const auto& [id, value] :
       {std::pair{"cylinders", "5"}, {"cylinders", "two"}, {"start", "rope"}, {"lamp", "yes"}, {"wheels", "2"}}) {
    CHECK(host.make({{id, value}}) == nullptr);
    CHECK(std::string(host.text).find(id) != std::string::npos);
  }
  CHECK(host.make({{"lamp", "true"}}) == nullptr);
  CHECK(std::string(host.text) == "no lamp today");
}

TEST_CASE("strings that were temporaries when added live as long as the instance", "[plugins][unit]") {
  Host host;
  auto* instance = host.make({{"cylinders", "3"}});
  REQUIRE(instance != nullptr);
  ls_parameter_v1 row{};
  REQUIRE(host.family->row(instance, LS_PARAMETERS, 0, &row, &host.message) == LS_OK);
  CHECK(std::string(row.id) == "cylinder_count_3");
  CHECK(row.typical == 3);
  CHECK(row.scope == LS_SCOPE_FIXED);
  CHECK(std::string(row.description).empty());  // null when added
  CHECK(host.family->row(instance, LS_PARAMETERS, 1, &row, &host.message) == LS_FAILED);
  CHECK(host.family->row(instance, 99, 0, &row, &host.message) == LS_FAILED);
  CHECK(host.family->count(instance, 99) == -1);
  CHECK(host.family->count(nullptr, LS_PARAMETERS) == -1);
  host.family->destroy(instance);
}

TEST_CASE("exceptions and numbers that are none become a failure with a sentence", "[plugins][fault]") {
  Host host;
  auto* instance = host.make();
  REQUIRE(instance != nullptr);
  const auto call = [&](double how, double y = 5) {
    const std::vector<double> in{how, 1, 0, y};
    std::vector<double> out(2, 0.0);
    host.text[0] = '\0';
    const auto result = host.family->evaluate(instance, 0, 1, in.data(), out.data(), &host.message);
    if (result == LS_OK) {
      CHECK(out[0] == y);
    }
    return std::pair{result, std::string(host.text)};
  };
  CHECK(call(0) == std::pair<std::int32_t, std::string>{LS_OK, ""});
  CHECK(call(1) == std::pair<std::int32_t, std::string>{LS_FAILED, "a mood"});
  CHECK(call(2).first == LS_FAILED);
  CHECK(call(3).second == "stage 'mood': output 'answer' came out not finite");
  CHECK(call(4).second == "stage 'mood': output 'other' came out not finite");
  CHECK(call(0, std::numeric_limits<double>::quiet_NaN()).second == "stage 'mood': input 3 is not a finite number");
  double one = 0;
  CHECK(host.family->evaluate(instance, 1, 1, &one, &one, &host.message) == LS_FAILED);
  CHECK(host.family->evaluate(instance, 0, 1, nullptr, &one, &host.message) == LS_FAILED);
  CHECK(host.family->evaluate(nullptr, 0, 1, &one, &one, &host.message) == LS_FAILED);
  host.family->destroy(instance);
}

TEST_CASE("several points of one call are each evaluated", "[plugins][unit]") {
  Host host;
  auto* instance = host.make();
  const std::vector<double> in{0, 1, 0, 7, 0, 1, 0, 8};
  std::vector<double> out(4, 0.0);
  REQUIRE(host.family->evaluate(instance, 0, 2, in.data(), out.data(), &host.message) == LS_OK);
  CHECK(out == std::vector<double>{7, 1, 8, 1});
  host.family->destroy(instance);
}

TEST_CASE("a message is cut to the host's buffer without splitting a character", "[plugins][unit]") {
  char text[8];
  ls_message message{text, sizeof text};
  write_message(&message, "four \xC3\xA4\xC3\xB6\xC3\xBC");
  CHECK(std::string(text) == "four \xC3\xA4");
  write_message(&message, "short");
  CHECK(std::string(text) == "short");
  write_message(nullptr, "nobody listens");
  ls_message none{nullptr, 0};
  write_message(&none, "nobody listens");
}
