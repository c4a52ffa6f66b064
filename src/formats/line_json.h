// The marks of a line as JSON. Plain functions, any thread.
#pragma once

#include <string>

#include "src/practice/line_marks.h"

namespace landfall {

// {"moves": [{"number", "outcome", "onset_s", "landing_time_s", "landing_error_cents", "timing_ms", "verdict"}, ...],
// "extra": [s, ...], "tempo_bpm"}; null where there is nothing to tell.
std::string lineMarksAsJson(const LineMarks& marks);

}  // namespace landfall
