// What a drill's end says of its tries, and the one next step. Plain functions, any thread.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "src/music/drill.h"
#include "src/practice/ear_guess.h"
#include "src/practice/tally.h"

namespace landfall {

// One step of a try, as it was marked.
struct DrillMark {
    Landing landing;
    bool guided = false;           // played with the live trace
    std::optional<Guess> guess{};  // of a set by ear
};

struct DrillSummary {
    std::vector<GestureTally> gestures;
    std::string guesses;   // "You guessed 4 of 5 right by ear."; empty where nothing was guessed
    Words words;           // "Usually 14 cents off, mostly low", "9 of 15 within 25 cents; 2 died."
    std::string nextStep;  // one sentence
};

DrillSummary summarise(std::span<const DrillMark> marks, const Drill& drill, Cents aim);

}  // namespace landfall
