#include "faces/cli/json_out.hpp"

#include <fmt/format.h>

#include <cmath>
#include <cstdlib>
#include <ostream>

namespace lostspark::faces {

Json json_number(double value) {
  if (!std::isfinite(value)) return nullptr;
  return std::strtod(fmt::format("{:.6g}", value).c_str(), nullptr);
}

void print_json(Context& context, const Json& document) {
  context.out << document.dump(2, ' ', false, Json::error_handler_t::replace) << '\n';
}

}  // namespace lostspark::faces
