// Drill files (TOML) and the drills built into the program; src/drills/half_up.toml explains the format. Plain functions, any thread.
#pragma once

#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

#include "src/music/drill.h"
#include "src/system/result.h"

namespace landfall {

// Errors name file, line, column and what was expected: "my.toml:12:9: 'tries' must be a whole number from 1 to 6, not 60".
Result<Drill> parseDrill(std::string_view toml, std::string_view fileName);
Result<Drill> readDrillFile(const std::filesystem::path& path);

// In the order in which a player meets them. Their files are part of the program: nothing to install, nothing to find.
const std::vector<Drill>& builtInDrills();

// The file that a built-in drill was made from; empty for a name that is none.
std::string_view builtInDrillText(std::string_view name);

// A built-in drill by name ("Half up", "half-up", "HALF UP"), or else a drill file by path. Unknown: the nearest names.
Result<Drill> findDrill(std::string_view nameOrPath);

// One drill as a JSON object, several as {"drills": [...]}; places and lengths as they are on this guitar.
std::string drillAsJson(const Drill& drill, const Guitar& guitar);
std::string drillsAsJson(const std::vector<Drill>& drills, const Guitar& guitar);

}  // namespace landfall
