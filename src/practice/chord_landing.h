// What is said of one move of several strings: every string's own landing, the verdict and its sentence. Plain values,
// any thread.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "dsp/units.h"
#include "src/music/chord_move.h"
#include "src/practice/landing.h"

namespace landfall {

// One string of a move. Quantities that could not be measured are empty; errors are against the asked note.
struct StringLanding {
    bool heard = false;  // it sounded where the move landed
    std::optional<Cents> landingError, firstStopError, sd;
    // Of all strings but the lowest: how far its interval with that one is from equal temperament, and from the pure
    // interval nearest to it; + wide.
    std::optional<Cents> interval, pureInterval;
    std::optional<Cents> dragged;  // a string to be held: how far it was pulled from where it was struck, + up
};

// Times count from the first sample heard.
struct ChordLanding {
    int moveNumber = 1;  // 1-based within the moves asked
    ChordMove move;
    Seconds onset, end;
    std::optional<Seconds> landingTime;  // when the last moving string arrived
    std::vector<StringLanding> strings;  // as the move's
    std::optional<Hertz> beat;           // unison: how far apart the two first partials are
    Verdict verdict = Verdict::notMeasurable;
    std::string sentence;
};

// The pure interval of so many semitones, from whole-number ratios: a major third 5/4, a minor sixth 8/5 and so on
// (Helmholtz, On the Sensations of Tone, chapter 10, from memory); octaves added for wider ones.
Cents pureInterval(int semitones);

// How far the bent string of a unison lies from the held one, + above; empty where it was not measured.
std::optional<Cents> apartInUnison(const ChordLanding& landing);

// The worst string's verdict, and the sentence: that string, or all of them. `aim` is what counts as right.
Verdict verdictOf(const ChordLanding& landing);
std::string sentenceOf(const ChordLanding& landing, Cents aim);

}  // namespace landfall
