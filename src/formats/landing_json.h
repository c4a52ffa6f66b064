// Landings as JSON, the contract of `landfall mark --json`. Plain functions, any thread.
#pragma once

#include <optional>
#include <span>
#include <string>

#include "src/practice/landing.h"

namespace landfall {

// "concert", "start-note", "own-guitar".
std::string_view targetName(Target target);

// {"landings": [{"move": 1, "gesture": "bend", "landing_error_cents": -3.1, ...}, ...]} by the moves' numbers; what
// could not be measured is null. What one of several strings has alone stands in "notes", an object for each string.
std::string landingsAsJson(std::span<const Landing> landings);

}  // namespace landfall
