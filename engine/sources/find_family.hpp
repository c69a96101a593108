// Finds the library of a family by id in the plugin folders.
#pragma once

#include <memory>

#include "sources/library.hpp"
#include "sources/load.hpp"
#include "sources/mistakes.hpp"

namespace lostspark::sources {

/// Opens the family's library. A family that no folder has is a mistake of the file at `family.spot`: null is returned.
/// Throws PluginError where the library that must be it (by file name) is broken.
[[nodiscard]] std::shared_ptr<const Library> find_family(const Folders& folders, const Said& family,
                                                         Mistakes& mistakes);

}  // namespace lostspark::sources
