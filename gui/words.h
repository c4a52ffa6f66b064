// The window's ready words: what to say for each trouble, and the big line for a landing. Plain functions, any thread.
#pragma once

#include <string>
#include <vector>

#include "gui/snapshot.h"
#include "src/music/drill.h"
#include "src/music/guitar.h"
#include "src/practice/words.h"

namespace landfall {

struct TroubleWords {
    std::string what;    // fits the big line: "No signal"
    std::string remedy;  // one sentence
};
TroubleWords troubleWords(const Notice& notice);

// Whether practising must wait until it is over: then it takes the big line.
bool stopsPractice(Trouble trouble);

// Of the steps of one try, in their order: "28 under, then dead on", and their sentences, those that are known. In a
// drill about the release that has the big line: "dead on".
Words wordsOf(const std::vector<Landing>& steps, Cents aim, Subject subject = Subject::landing);
// Whether the last of them is what such a drill is about.
bool isReleased(const std::vector<Landing>& steps, Subject subject);

// What the sweep and the scatter draw of a landing.
TryMark markOf(const Landing& landing, Cents aim, Subject subject = Subject::landing);

// A guitar's neck with its strings' names, no place marked.
Neck neckOf(const Guitar& guitar);

enum class LevelWord { none, tooQuiet, fine, clipping };
LevelWord levelWord(const Input& input);

}  // namespace landfall
