// The player's own pulse in a line, and each move's time against it. Pure functions, any thread.
#pragma once

#include "src/practice/line_marks.h"

namespace landfall {

// Fills in `timing` of the moves and `tempo`. The pulse is steady or drifts evenly; a pause, a correction or a bar begun
// again breaks it, and it goes on at the same tempo after the break.
void timeAgainstPulse(const Line& line, LineMarks& marks);

}  // namespace landfall
