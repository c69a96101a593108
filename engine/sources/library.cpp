// Boost.DLL would pull in Boost.Filesystem (to be linked) without this.
#define BOOST_DLL_USE_STD_FS
#include "sources/library.hpp"

#include <boost/dll/shared_library.hpp>
#include <cstring>

#include "base/error.hpp"
#include "sources/text.hpp"

namespace lostspark::sources {

struct Library::Handle {
  boost::dll::shared_library library;
};

namespace {

[[noreturn]] void refuse(const std::filesystem::path& file, const std::string& cause) {
  throw PluginError("plugin " + file.string() + ": " + cause);
}

// Calls into the plugin: a C++ exception that gets out is turned into a cause.
const void* query_family(const ls_entry_v1& entry) {
  try {
    return entry.query(LS_FAMILY_INTERFACE);
  } catch (const std::exception& error) {
    throw PluginError(std::string("query() threw an exception: ") + error.what());
  } catch (...) {
    throw PluginError("query() threw an exception");
  }
}

void check_functions(const ls_family_v1& family) {
  if (family.option_count == nullptr || family.option == nullptr || family.create == nullptr ||
      family.destroy == nullptr || family.count == nullptr || family.row == nullptr || family.evaluate == nullptr)
    throw PluginError("the family table has a null function");
}

}  // namespace

std::string copied_text(const char* text, const std::string& what) {
  if (text == nullptr) throw PluginError(what + " is a null pointer");
  const std::size_t length = strnlen(text, LS_TEXT_LIMIT);
  if (length == LS_TEXT_LIMIT)
    throw PluginError(what + " does not end within " + std::to_string(LS_TEXT_LIMIT) + " bytes");
  std::string copy(text, length);
  if (!is_utf8(copy)) throw PluginError(what + " is not UTF-8");
  return copy;
}

Library::~Library() = default;

std::shared_ptr<const Library> Library::open(const std::filesystem::path& file) {
  std::error_code code;
  if (!std::filesystem::is_regular_file(file, code)) refuse(file, "there is no such file");
  std::shared_ptr<Library> library(new Library);
  library->file_ = file;
  library->handle_ = std::make_unique<Handle>();
  auto& dll = library->handle_->library;
  try {
    // Now: a missing function shows here, not at the first call. Local: one plugin cannot call another's functions.
    // An absolute path, or the loader would search its own folders for a bare file name.
    dll.load(std::filesystem::absolute(file), boost::dll::load_mode::rtld_now | boost::dll::load_mode::rtld_local);
  } catch (const std::exception& error) {
    refuse(file, std::string("cannot be loaded as a shared library (") + error.what() + ")");
  }
  // Asking first: Boost.DLL reports a missing symbol as "Illegal seek".
  if (!dll.has("lostspark_entry")) refuse(file, "has no symbol 'lostspark_entry', so it is no lostspark plugin");
  const auto& entry = dll.get<const ls_entry_v1>("lostspark_entry");
  if (entry.abi_major != LS_ABI_MAJOR)
    refuse(file, "was built for plugin interface version " + std::to_string(entry.abi_major) + ", this program has " +
                     std::to_string(LS_ABI_MAJOR) + "; rebuild the plugin");
  if (entry.struct_size < sizeof(ls_entry_v1))
    refuse(file, "its entry table is truncated: " + std::to_string(entry.struct_size) + " bytes, expected " +
                     std::to_string(sizeof(ls_entry_v1)));
  try {
    library->plugin_id_ = copied_text(entry.plugin_id, "the plugin id");
    library->version_ = copied_text(entry.plugin_version, "the plugin version");
    if (entry.query == nullptr) throw PluginError("its query function is a null pointer");
    const auto* family = static_cast<const ls_family_v1*>(query_family(entry));
    if (family == nullptr) throw PluginError(std::string("does not offer the interface ") + LS_FAMILY_INTERFACE);
    if (family->struct_size < sizeof(ls_family_v1))
      throw PluginError("its family table is truncated: " + std::to_string(family->struct_size) + " bytes, expected " +
                        std::to_string(sizeof(ls_family_v1)));
    check_functions(*family);
    library->family_ = family;
    library->id_ = copied_text(family->id, "the family id");
    library->title_ = copied_text(family->title, "the family title");
    library->description_ = copied_text(family->description, "the family description");
    if (!is_identifier(library->id_)) throw PluginError("the family id '" + library->id_ + "' is not lower_snake_case");
  } catch (const PluginError& error) {
    refuse(file, error.what());
  }
  return library;
}

}  // namespace lostspark::sources
