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

}  // namespace landfall
