// A line as it was played, as a picture: the stepping stones of the window as one SVG file (W3C SVG 1.1) that needs no
// other. Plain functions, any thread.
#pragma once

#include <span>
#include <string>

#include "src/practice/line_marks.h"
#include "src/practice/line_words.h"

namespace landfall {

// `traces` as of tracesOf, `words` of these marks.
std::string lineAsSvg(const Line& line, const LineMarks& marks, std::span<const LineTrace> traces,
                      const PassWords& words, Cents aim);

}  // namespace landfall
