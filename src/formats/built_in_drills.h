// The texts of the drill files built into the program, made by CMake from src/drills. Plain values, any thread.
#pragma once

#include <span>
#include <string_view>

namespace landfall {

struct BuiltInDrillText {
    std::string_view fileName;
    std::string_view toml;
};

std::span<const BuiltInDrillText> builtInDrillTexts();

}  // namespace landfall
