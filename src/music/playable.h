// What no hand can play or no ear could follow, and why. Plain functions, any thread.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <string_view>

#include "dsp/units.h"
#include "src/music/move.h"

namespace landfall {

// A bend of so many half steps from a fret.
std::optional<std::string> whyNoBend(int fret, double halfSteps);

// A bend, pre-bend or release by so many half steps that is to stay: a smaller one looks like a note that dies.
std::optional<std::string> whyTooSmall(std::string_view gesture, double halfSteps);

// From one fret to another in a time; `slid`: along the string, so that the hand has to go all the way.
std::optional<std::string> whyOutOfReach(int fromFret, int toFret, int capo, Seconds time, bool slid);

// Notes struck together.
std::optional<std::string> whyNotTogether(std::span<const NeckPlace> places);

}  // namespace landfall
