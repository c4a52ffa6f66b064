// Writes a small file in one step. Any thread.
#pragma once

#include <filesystem>
#include <string_view>

#include "src/system/result.h"

namespace landfall {

// Whatever happens, a power cut included, either the old file or the whole new one is there afterwards. A link is
// followed.
Result<void> replaceFile(const std::filesystem::path& file, std::string_view bytes);

}  // namespace landfall
