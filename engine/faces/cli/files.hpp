// Whole text files in and out, with the two messages that can go wrong.
#pragma once

#include <string>

namespace lostspark::faces {

/// Throws InputError naming the file.
[[nodiscard]] std::string read_text(const std::string& file);
/// Throws InputError when the file is there already and may not be replaced, or cannot be written whole.
enum class Replace { no, yes };
void write_text(const std::string& file, const std::string& text, Replace replace = Replace::no);

}  // namespace lostspark::faces
