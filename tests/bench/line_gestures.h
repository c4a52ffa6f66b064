// The second half of gesture_table: gestures that stand among other notes.
#pragma once

#include <cstdint>
#include <string>

// Prints a row of Markdown for each kind whose name contains `only`: `tries` at each of six places.
void printLineGestures(int tries, std::uint32_t seed, const std::string& only);
