#include "faces/cli/files.hpp"

#include <filesystem>
#include <fstream>
#include <sstream>

#include "base/error.hpp"

namespace lostspark::faces {

std::string read_text(const std::string& file) {
  std::error_code error;
  if (std::filesystem::is_directory(file, error)) throw InputError(file + ": it is a folder; name a file");
  std::ifstream in(file, std::ios::binary);
  if (!in) throw InputError(file + ": cannot be read; name an existing file");
  std::ostringstream text;
  text << in.rdbuf();
  return std::move(text).str();
}

void write_text(const std::string& file, const std::string& text, Replace replace) {
  std::error_code error;
  if (replace == Replace::no && std::filesystem::exists(file, error))
    throw InputError(file + ": is there already; name another file, or remove it");
  std::ofstream out(file, std::ios::binary | std::ios::trunc);
  out << text;
  out.close();
  if (!out) throw InputError(file + ": cannot be written; name a file in a folder that takes it");
}

}  // namespace lostspark::faces
