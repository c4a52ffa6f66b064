// What the tries of the log add up to. Plain functions, any thread.
#pragma once

#include <span>
#include <vector>

#include "src/practice/drill_summary.h"
#include "src/practice/tally.h"
#include "src/store/logged_try.h"

namespace landfall {

// Struck tries are left out.
Tally tallyOf(std::span<const LoggedTry> tries);

// As marks of a drill. A try's later steps are at the place of its first.
std::vector<DrillMark> drillMarksOf(std::span<const LoggedTry> tries);

// Whether a trend may be spoken of: at least twenty counted tries of the gesture on at least ten days. Fewer say more
// about the day than about the player (our own choice, on the careful side; no published figure).
bool enoughForTrend(std::span<const LoggedTry> tries, Gesture gesture);

}  // namespace landfall
