// What the judge says of one try at one move: every measured quantity, the verdict and its sentence. Plain values, any
// thread.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "dsp/units.h"
#include "src/music/move.h"
#include "src/music/target.h"

namespace landfall {

enum class Verdict {
    deadOn,
    inTune,
    near,
    under,
    over,
    otherInterval,  // half step played, full step asked, and the like
    wrongFret,
    died,
    twoStrings,
    notMeasurable
};

// The fixed words: "dead on", "in tune", "near", "under", "over", "other interval", "wrong fret", "died", "two strings
// rang", "not measurable".
std::string_view verdictName(Verdict verdict);

// Vibrato measured over whole cycles of the hold; cents are against the asked note, + above.
struct VibratoReading {
    Hertz rate;
    Cents width;  // top - bottom
    Cents bottom, top, centre;
    double evenness = 1.0;  // 1 = every cycle alike
};

// Whether a string of several sounded where its move landed. `notSure`: an octave or a twelfth over another one all its
// partials are that one's, too; the quantities are then what they are if it did.
enum class StringHeard { no, yes, notSure };

// One string of a move of several. Quantities that could not be measured are empty; errors are against its target.
struct StringLanding {
    StringHeard heard = StringHeard::no;
    Cents target{0.0};  // above the asked note in equal temperament
    std::optional<Cents> landingError, firstStopError, sd;
    // Of all strings but the lowest: how far its interval with that one is from equal temperament, and from the pure
    // interval nearest to it; + wide.
    std::optional<Cents> interval, pureInterval;
    std::optional<Cents> dragged;   // a string to be held: how far it was pulled from where it was struck, + up
    std::optional<Seconds> late{};  // struck so long after the strings before it, which were struck together
    bool operator==(const StringLanding&) const = default;
};

// Quantities that could not be measured are empty. Errors: + over the target, - under. Times count from the first
// sample heard. Of several strings the worst one's, or of a unison how far apart they are.
struct Landing {
    int moveNumber = 1;  // 1-based within the moves asked
    Move move;
    Target target = Target::concert;
    Verdict verdict = Verdict::notMeasurable;
    std::string sentence;

    // The Listener counts the notes it hears from 1. A try goes by the number of its first note; its steps may be played
    // on several.
    int note = 0, tryNumber = 0;
    Seconds onset;                       // the pick stroke that the try began with
    Seconds end;                         // the try's end: end of note, next onset, or 3 s after arrival
    std::optional<Seconds> landingTime;  // arrival
    std::optional<Cents> landingError;   // the hold against the target
    // what is marked; of a vibrato on a fretted note its bottom, which should be the note
    std::optional<Cents> firstStopError;
    std::optional<Cents> sd;  // of the landing
    // the start note against equal temperament; empty where it moved at the stroke
    std::optional<Cents> startError;
    std::optional<Seconds> riseTime;  // from leaving the start note to arrival
    std::optional<Cents> correction;  // landing - first stop, where the pitch was pulled in
    std::optional<Cents> overshoot;   // furthest past the landing before it
    std::optional<Cents> holdSpread;  // robust spread of the hold
    std::optional<Cents> sag;         // pitch lost at the end of the hold, >= 0
    std::optional<Seconds> holdLength;
    std::optional<Seconds> linger;      // slides: time on the note left
    std::optional<int> landedFret;      // slides at a known place
    std::optional<Decibels> levelKept;  // level of the hold - level of the start note
    std::optional<VibratoReading> vibrato;
    std::optional<MidiPitch> beside{};     // a second string that rang where one was asked
    std::vector<StringLanding> strings{};  // of a move of several: from low to high where they start
    std::optional<Hertz> beat;             // of a unison: how far apart the two first partials are
};

}  // namespace landfall
