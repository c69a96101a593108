// The toy family of tests/plugins_bad and a network on it.
#pragma once

#include <filesystem>
#include <string>

#include "sources/load.hpp"

namespace lostspark::test {

/// Folders that hold the honest toy family and this project's networks.
[[nodiscard]] sources::Folders toy_folders();
[[nodiscard]] std::filesystem::path bad_plugin(const std::string& name);
/// A sound network of the toy family.
[[nodiscard]] std::string toy_network();
/// The sound network with the first `from` replaced by `to`; fails the test if it is not there.
[[nodiscard]] std::string toy_network_with(const std::string& from, const std::string& to);
[[nodiscard]] std::shared_ptr<const model::Vehicle> load_toy(const std::string& text);
/// Message of the InputError that loading this text must throw.
[[nodiscard]] std::string mistakes_of(const std::string& text);

/// Text of a file; empty when it is not there.
[[nodiscard]] std::string file_text(const std::filesystem::path& file);
/// Compares with tests/golden/<name>; what differs is left in <build>/golden for tests/accept_golden.sh.
void check_golden(const std::string& name, const std::string& text);

}  // namespace lostspark::test
