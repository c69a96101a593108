#include "sources/family_instance.hpp"

#include <array>
#include <cmath>

#include "base/error.hpp"
#include "sources/text.hpp"

namespace lostspark::sources {
namespace {

constexpr std::size_t k_message_size = 512;

// The buffer a plugin writes its sentence to; whatever comes back is bounded and printable.
struct MessageBuffer {
  std::array<char, k_message_size> data;  // 512 bytes are not cleared for every evaluation
  ls_message message{data.data(), static_cast<std::uint32_t>(data.size())};
  MessageBuffer() { data.front() = '\0'; }
  [[nodiscard]] std::string text() {
    data.back() = '\0';
    std::string said(data.data());
    if (said.empty()) return "it gave no reason";
    return is_utf8(said) ? said : "its reason is not UTF-8";
  }
};

[[noreturn]] void refuse(const Library& library, const std::string& cause) {
  throw PluginError("plugin " + library.file().string() + ": " + cause);
}

// Runs one call into the plugin; exceptions of authors who skip the helper become causes. `what` names the call.
template <class Name, class Call>
auto guarded(const Library& library, const Name& what, Call call) {
  try {
    return call();
  } catch (const std::exception& error) {
    refuse(library, what() + " threw an exception: " + error.what());
  } catch (...) {
    refuse(library, what() + " threw an exception");
  }
}

class PluginPhysics final : public model::StagePhysics {
 public:
  PluginPhysics(Instance instance, const std::vector<model::Stage>& stages) : instance_(std::move(instance)) {
    for (const auto& stage : stages)
      shapes_.push_back({stage.id, stage.input_width(), static_cast<std::size_t>(stage.output_count)});
  }

  void evaluate(model::Index stage, std::size_t n, std::span<const double> inputs,
                std::span<double> outputs) const override {
    ensure(stage >= 0 && static_cast<std::size_t>(stage) < shapes_.size(), "stage index out of range");
    const auto& shape = shapes_[static_cast<std::size_t>(stage)];
    ensure(inputs.size() == n * shape.inputs && outputs.size() == n * shape.outputs,
           "stage called with arrays of another shape");
    instance_.evaluate(stage, shape.id, n, inputs, outputs);
  }
  [[nodiscard]] std::shared_ptr<const model::StagePhysics> another() const override {
    return std::shared_ptr<const PluginPhysics>(new PluginPhysics(instance_.another(), shapes_));
  }

 private:
  struct Shape {
    std::string id;
    std::size_t inputs, outputs;
  };
  PluginPhysics(Instance instance, std::vector<Shape> shapes)
      : instance_(std::move(instance)), shapes_(std::move(shapes)) {}
  Instance instance_;
  std::vector<Shape> shapes_;
};

}  // namespace

Instance::Instance(std::shared_ptr<const Library> library, const Settings& settings)
    : library_(std::move(library)), settings_(settings) {
  std::vector<ls_setting> raw;
  for (const auto& [id, value] : settings) raw.push_back({id.c_str(), value.c_str()});
  MessageBuffer buffer;
  instance_ = guarded(
      *library_, [] { return std::string("create()"); },
      [&] { return library_->family().create(raw.data(), static_cast<std::int32_t>(raw.size()), &buffer.message); });
  if (instance_ == nullptr) refuse(*library_, "refuses the options: " + buffer.text());
}

Instance::~Instance() {
  if (instance_ == nullptr) return;
  try {
    library_->family().destroy(instance_);
  } catch (...) {  // nothing can be done about it here, and a destructor must not throw
  }
}

Instance::Instance(Instance&& other) noexcept
    : library_(std::move(other.library_)),
      settings_(std::move(other.settings_)),
      instance_(std::exchange(other.instance_, nullptr)) {}

void Instance::evaluate(std::int32_t stage, const std::string& stage_id, std::size_t n, std::span<const double> inputs,
                        std::span<double> outputs) const {
  MessageBuffer buffer;
  // A value the plugin leaves untouched must not pass for an answer of the last call.
  for (auto& value : outputs) value = std::nan("");
  const auto name = [&] { return "evaluate() of stage '" + stage_id + "'"; };
  const auto status = guarded(*library_, name, [&] {
    return library_->family().evaluate(instance_, stage, static_cast<std::int32_t>(n), inputs.data(), outputs.data(),
                                       &buffer.message);
  });
  if (status != LS_OK) refuse(*library_, name() + " failed: " + buffer.text());
  for (const double value : outputs)
    if (!std::isfinite(value)) refuse(*library_, name() + " gave an output that is not a finite number");
}

std::shared_ptr<const model::StagePhysics> make_physics(Instance instance, const std::vector<model::Stage>& stages) {
  return std::make_shared<const PluginPhysics>(std::move(instance), stages);
}

}  // namespace lostspark::sources
