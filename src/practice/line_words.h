// What is said of a pass of a line: how much landed, the one thing to mend first, the moves that failed, the tempo.
// Plain functions, any thread.
#pragma once

#include <string>
#include <vector>

#include "src/practice/line_marks.h"

namespace landfall {

// "not played", "heard F♯4", "in tune"
std::string wordsOf(const LineMark& mark);

// "Bar 2, beat 3"
std::string placeOf(const LineMove& move);

// Short lines, for eyes two metres away.
struct PassWords {
    std::string share;                // "29 of 31 landed, 1 stroke too many."
    std::string headline;             // "Bar 2, beat 3: the full step stopped 31 under"
    std::vector<std::string> failed;  // the others, as the headline
    std::string tempo;                // "Played at 72; 76 asked."; empty: not known
};
// First comes a wrong note, then a missed one, one that died, the largest first stop outside the aim, the latest. A
// first stop counts where the hand makes the pitch, not the fret.
PassWords wordsOf(const Line& line, const LineMarks& marks, Cents aim);

}  // namespace landfall
