// How well a simulated player bends and slides: tendencies, spreads and chances. Plain values, any thread.
#pragma once

#include <string>
#include <string_view>

#include "dsp/units.h"
#include "src/system/result.h"

namespace landfall {

// Habits in a line: chances for each move that is picked, and what the hand does then.
struct LineHabits {
    double beginsAgain = 0.0;                          // goes back to the first move of its bar
    double hesitates = 0.0, lingers = 0.0;             // waits before it; stays on the first note of a slide
    double ringsOver = 0.0;                            // lets it sound on under the next one, on another string
    double wrongString = 0.0;                          // plays its fret on the string beside it
    Seconds waits{0.8}, lingersFor{0.45}, again{0.3};  // how long; before a bar that is begun again
};

// Spreads are standard deviations. Chances are per move, 0 to 1.
struct PlayerSkill {
    std::string name;

    // First stop of a bend, release or pre-bend: bias and spread per whole step of bend, so that a half step misses by
    // less.
    Cents bias{0.0}, spread{6.0};
    Cents biasLeft{0.0};        // what the bias becomes with practice
    double triesToLearn = 0.0;  // the bias falls to 1/e of the way in so many tries; 0: it stays
    Cents setupSpread{1.5};     // of a fretted note, from finger pressure and the guitar's own frets
    Cents startBias{0.0};

    double correctionChance = 0.5;  // of hearing a miss of 14 cents or more and pulling it in
    double correctionLeaves = 0.2;  // share of the miss that is left
    Seconds rise{0.25}, riseSpread{0.05};
    double early = 1.0, earlySpread = 0.15;  // below 1 the rise is over early, above it starts late
    Cents shoot{6.0};                        // how far past the stop a fast bend swings, for a rise of 150 ms

    Seconds start{0.35}, startSpread{0.06};  // the note before the gesture
    Seconds hold{1.1}, holdSpread{0.15};
    Cents driftPerSecond{-1.5};
    Cents sagBias{4.0}, sagSpread{3.0};  // lost in the last fifth of a second of a bent hold; never below 0

    Hertz vibratoRate{5.6};
    Cents vibratoWidth{32.0}, vibratoSpread{5.0};

    Seconds slidePerFret{0.045};
    double overshootChance = 0.0;      // a slide passes the fret and comes back
    double wrongFretChance = 0.0;      // stops a fret short or past
    double otherIntervalChance = 0.0;  // half step for full step and the like
    double diedChance = 0.0;
    double doubleStrokeChance = 0.0;
    // Of several strings: one that the pick misses; how far a bend pulls the held ones; how far apart they are struck.
    double missedChance = 0.0;
    Cents dragSpread{2.0};
    Seconds strum{0.015};
    // In a line: how unevenly a hand keeps the beat, and how long it lets go of a note before the next at the most.
    Seconds beatSpread{0.015}, mostGap{0.06};
    LineHabits habits{};
    double loudness = 0.16, loudnessSpread = 0.03;  // amplitude of the first partial
    double pickAttack = 0.5;  // 0 soft to 1 hard: brightness, noise and the glide after the stroke
};

// The demo's student: whole bends come up short, gets better.
PlayerSkill ines();

}  // namespace landfall
