// Drill files (TOML) and the drills built into the program; src/drills/half_up.toml explains the format. Plain
// functions, any thread.
#pragma once

#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

#include "src/music/drill.h"
#include "src/system/result.h"

namespace landfall {

constexpr std::size_t longestDrillName = 60;  // characters

// Errors name file, line, column and what was expected: "my.toml:12:9: 'tries' must be a whole number from 1 to 6, not
// 60".
Result<Drill> parseDrill(std::string_view toml, std::string_view fileName);
Result<Drill> readDrillFile(const std::filesystem::path& path);

// The drill as a file that parseDrill reads back. Several places on a string are one [[place]].
std::string drillAsToml(const Drill& drill);

// The player's own drills: the .toml files of a folder by name, and one line for each that cannot be used. No folder:
// none.
struct OwnDrills {
    std::vector<Drill> drills;
    std::vector<std::string> problems;
};
OwnDrills ownDrills(const std::filesystem::path& folder);
// drills in the platform's data folder.
Result<std::filesystem::path> ownDrillsFolder();
// Makes the folder where there is none; replaces the drill of that name. The file's path is returned.
Result<std::filesystem::path> keepDrill(const std::filesystem::path& folder, const Drill& drill);

// In the order in which a player meets them. Their files are part of the program: nothing to install, nothing to find.
const std::vector<Drill>& builtInDrills();

// The file that a built-in drill was made from; empty for a name that is none.
std::string_view builtInDrillText(std::string_view name);

// A built-in drill by name ("Half up", "half-up", "HALF UP"), or one of the player's own. Unknown: the nearest names.
Result<Drill> drillNamed(std::string_view name);
// The same, or else a drill file by path.
Result<Drill> findDrill(std::string_view nameOrPath);

// One drill as a JSON object, several as {"drills": [...]}; places and lengths as they are on this guitar.
std::string drillAsJson(const Drill& drill, const Guitar& guitar);
std::string drillsAsJson(const std::vector<Drill>& drills, const Guitar& guitar);

}  // namespace landfall
