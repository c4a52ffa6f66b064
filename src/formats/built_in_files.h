// The texts of the files built into the program, made by CMake from src/drills and src/phrases. Plain values, any
// thread.
#pragma once

#include <span>
#include <string_view>

namespace landfall {

struct BuiltInFile {
    std::string_view name;  // of the file
    std::string_view text;
};

std::span<const BuiltInFile> builtInDrillFiles();
std::span<const BuiltInFile> builtInPhraseFiles();

}  // namespace landfall
