// A database written beside the place where it is to be: whole or not there. Plain functions, any thread.
#pragma once

#include <filesystem>
#include <functional>

#include "src/system/result.h"

namespace landfall {

// What holds a student's practice is nobody else's to read.
constexpr auto ownerOnly = std::filesystem::perms::owner_read | std::filesystem::perms::owner_write;

// `write` fills the file that it is given (empty, its owner's alone) and sees that it is on the disk; then it is read
// through and renamed. Fails where `to` is there already.
Result<void> writeAside(const std::filesystem::path& to,
                        const std::function<void(const std::filesystem::path& part)>& write);

}  // namespace landfall
