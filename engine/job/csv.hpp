// Comma-separated values: fields with commas, quotes or line ends are quoted, quotes in them doubled (RFC 4180).
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace lostspark::job {

[[nodiscard]] std::string csv_line(const std::vector<std::string>& fields);
/// All rows; a semicolon separates too where the first line has semicolons and no comma (spreadsheets of some
/// countries). Throws InputError naming the line of a quote that never ends.
[[nodiscard]] std::vector<std::vector<std::string>> read_csv(std::string_view text, const std::string& file);

}  // namespace lostspark::job
