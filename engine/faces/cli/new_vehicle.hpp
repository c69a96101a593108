// vehicle new: the family of an unknown vehicle, and a first network file for it.
#pragma once

namespace CLI {
class App;
}

namespace lostspark::faces {

struct Context;

/// Adds `new` to the group `vehicle`.
void add_new_vehicle_command(CLI::App& group, Context& context);

}  // namespace lostspark::faces
