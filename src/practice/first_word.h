// Whether something may be said of a landing 75 to 100 ms after it, from the provisional stream, before the judge's own
// rules are met. Pure functions. Times in seconds, pitches in cents.
#pragma once

#include <optional>

#include "src/practice/landing_judge.h"

namespace landfall {

// Measured by tests/bench/gesture_table.cpp.
struct FirstWordConfig {
    // 75 ms of steady pitch instead of 100, where it is flat. A turn of an overshoot is round: of 35 cents in 90 ms its
    // outer thirds lie more than 5 cents below the middle one; a hand that holds wanders less.
    double stop = 0.075;
    double flat = 3.0;  // cents between its thirds
    // cents, or of the frames' noise: so far back in the last third, the middle one is the turn of an overshoot
    double turned = 0.3;
    double leaves = 5.0;    // cents: what has left its stop by more in the last third is on its way again
    double uneven = 0.160;  // of steady pitch where it is not flat
    double fades = 6.0;     // dB within it: a string being damped is no landing
    double said = 0.085;    // after arrival
    // cents from the target: further off, a slide may be on its way, a bend may be given up or dying, and nothing is
    // said before the final word
    double farthest = 45.0;
    double everyFrame = 2.0;  // in a note that has sounded longer, every fourth frame is looked at; before, every one
};

// How the judge is to look at the note now, at its last point; empty: nothing can be said.
std::optional<JudgeConfig> firstLook(const Note& early, const JudgeConfig& judging, const FirstWordConfig& config);

// Whether a landing so found, held against `targetCents`, may be said. `settled`: the same note in the settled stream,
// nullptr where that has not come to it.
bool maySay(const Landing& landing, double targetCents, const Note& early, const Note* settled,
            const JudgeConfig& judging, const FirstWordConfig& config);

}  // namespace landfall
