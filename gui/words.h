// The window's ready words: what to say for each trouble, and the big line for a landing. Plain functions, any thread.
#pragma once

#include <string>

#include "gui/snapshot.h"

namespace landfall {

struct TroubleWords {
    std::string what;    // fits the big line: "No signal"
    std::string remedy;  // one sentence
};
TroubleWords troubleWords(const Notice& notice);

// Whether practising must wait until it is over: then it takes the big line.
bool stopsPractice(Trouble trouble);

// "dead on", "7 over", "22 under", "half step played", "wrong fret", "died": what a player two metres away reads.
std::string landedWords(const Landing& landing);

// What the sweep and the scatter draw of a landing.
TryMark markOf(const Landing& landing);

enum class LevelWord { none, tooQuiet, fine, clipping };
LevelWord levelWord(const Input& input);

}  // namespace landfall
