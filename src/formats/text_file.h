// Text files that a player may have written, read whole and within bounds. Plain functions, any thread.
#pragma once

#include <cstdint>
#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

#include "src/system/result.h"

namespace landfall {

// Only regular files: a pipe would be waited for. `kind` is what the errors call it: "a drill file".
Result<std::string> readTextFile(const std::filesystem::path& path, std::uintmax_t largest, std::string_view kind);

// The files of a folder that end so, by name; none where there is no folder. A folder that cannot be read is a line in
// `problems`.
std::vector<std::filesystem::path> filesIn(const std::filesystem::path& folder, std::string_view extension,
                                           std::vector<std::string>& problems);

}  // namespace landfall
