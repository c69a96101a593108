// The workshop file of the demo, compiled in.
#pragma once

namespace lostspark::sources {

/// Text of networks/workshop.toml.
[[nodiscard]] const char* demo_workshop_text();

}  // namespace lostspark::sources
