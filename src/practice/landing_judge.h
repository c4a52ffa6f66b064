// Measures how one asked move landed within one note: every quantity of a Landing. Pure functions over the settled
// stream, any thread.
#pragma once

#include <optional>
#include <vector>

#include "src/practice/landing.h"
#include "src/practice/note.h"

namespace landfall {

// The definitions that the judge uses. Times in seconds, pitches in cents.
struct JudgeConfig {
    // A try begins on the start note: half a fret and a little, so that a string a quarter tone off is still
    // recognised.
    double startTolerance = 60.0;

    // Arrival: the last entry into this band around the landing. 8 cents is under the 10 that players hear (Hill &
    // Summers 2007); a vibrato swings through its own depth, with 15 % for its unevenness.
    double arrivalBand = 8.0;
    double vibratoBand = 1.15;

    // First stop: +20 ms leaves out the last of the approach, +150 ms comes before the ear can have corrected (a
    // voluntary pitch correction takes 200 ms and more).
    double firstStopFrom = 0.020, firstStopTo = 0.150;
    // Landing: the quarter second after the first stop's transient.
    double landingFrom = 0.060, landingTo = 0.310;
    // With vibrato: whole cycles; two of them at 5 Hz, and from 4.3 Hz on: the last one may end a quarter of a cycle
    // late.
    double vibratoFrom = 0.100, vibratoTo = 0.510, vibratoSpare = 0.25;
    double steadyBeforeVibrato = 0.150;  // so much steady pitch is a landing of its own, the vibrato only follows it

    // A place where the pitch stays for 100 ms is a stop; a shorter one on the way is the turn of an overshoot (35
    // cents past, rounded over 150 ms, stay within 12 cents for about 60 ms) or a fret of a slide. The last one before
    // the note ends may be shorter.
    double stopLeast = 0.100;
    double stopLeastAtEnd = 0.050;
    double stopLeastSounding = 0.100;  // the last one, while the note sounds
    // A slow bend creeps to its stop: a stay that goes on like that for its first 0.15 s, and straight into the next,
    // is no stop yet. A hand that wanders by 3 cents once in a second passes its middle at 19 cents/s, for a shorter
    // time.
    // With gain so short a look is too unsure: over half a second it shows.
    double creepSlope = 10.0, creepFor = 0.150, creepLongest = 0.500;
    // cents from its note, at which a move has left it: more than a string wanders; of one that takes longer than a
    // second fewer, because a slow bend spends a good part of its time on its first cents
    double leftBy = 4.0, leftSlowlyBy = 1.5, slowWay = 1.0;
    // One that enters the arrival band at less than this comes in slowly, as a half step in a second does: its arrival
    // is where it goes less than creepSlope over creepFor, and nothing is said before. A full step in 0.8 s comes in at
    // 220.
    double creepFastest = 150.0;
    double slowsOver = 0.100;  // s, and the same before them: how evenly it slows down
    // a short turn that goes on to another place within this is part of the approach
    double overshootSettles = 0.250;
    // Correction: 12 cents are past any wander of a held bend; 600 ms are the time to hear, decide and pull.
    double correctionLeast = 12.0;
    double correctionWithin = 0.600;

    // A move has been tried once it has gone this share of its interval, and so many cents: given up as early as that,
    // it is still told.
    double triedShare = 0.10, triedLeast = 18.0;
    // dB under the note's loudest: what is below is the string being damped, not moved
    double soundingLevel = 15.0;
    // A stay that sounds for less than this, less than so much of the way, with which the note ends: it died there.
    double diedWithin = 0.150, diedShare = 0.75;
    // A move that is left within this time of the stroke and does not land is an ornament, not a try.
    double triedAfter = 0.150;
    // A quarter of the way is where a half step that fell short is still told from nothing, when two whole ones were
    // asked.
    double landedShare = 0.25, landedLeast = 40.0;
    // a slide's stay this far past the fret that then goes back to it shot past, it did not stop
    double slideShot = 50.0;
    double slidePause = 0.300;     // a shorter stay on a fret before it is passed on a slow slide
    double slideShortest = 300.0;  // a slide that stops more than three frets short has not landed
    double furthestPast = 260.0;   // nor has one that goes this far past (and half the interval) been this move

    // From a fifth to four fifths of its way no hand bends faster than this: a raised cosine of 70 ms takes 29 ms. A
    // hammer-on or a pull-off jumps, in 10 to 20 ms as the tracker sees it.
    double bendFastest = 0.024;
    // nor does a hand come so far past its stop and back: another finger sounded on the way
    double bendShotMost = 150.0;
    // nor does a bend go back past the fret, or one that dies beyond what a bend may: the note went on with other
    // fingers
    double bendBackMost = 75.0;
    double overshootLeast = 8.0;  // past the landing; less is inside the arrival band
    double sagWindow = 0.150;     // the end of the hold
    // what follows the hold and is no further below: it sank; further is a release
    double sagEnd = 0.060, sagMost = 80.0;
    // dB/s: a hold that falls by more and cannot be measured is what a room of up to a second's reverberation (60 dB,
    // by its definition) keeps of a string that was damped; strings fall by 5 to 30
    double dampedFall = 60.0;
    double holdMost = 2.0;         // nothing after this is marked: strings die
    double tryMost = 3.0;          // a try ends this long after arrival
    double struckSettles = 0.030;  // a struck note's hold starts once the attack is over
    double leastHold = 0.040;      // less of a hold than this cannot be measured
    // a landing with a standard deviation above this is not measurable: more than "in tune" is wide
    double mostDoubt = 12.0;
    // Where that is more, so many frames (a tenth to a quarter of a second) of the hold that are by themselves half as
    // sure as is asked of it stand for it.
    double sureFrame = 6.0;
    std::size_t sureLeast = 20, sureMost = 50;
    // one that is left within this time (s) for the note that it came from was given up: the top of a short bend
    double letDownWithin = 0.250;
    double aim = 25.0;  // asked of this student: what the sentence calls good

    // A landing's standard deviation. Fitted so that its 90 % intervals hold the truth of synthetic, sampled and
    // recorded clips 85 to 95 % of the time, then checked on simulated students. the same string read twice in the same
    // way differs by this much (model error)
    double sdFloor = 0.15;
    double sdFrames = 1.0;        // of the frames' own standard deviation
    double sdIndependent = 0.05;  // s: frames overlap, one independent value in so long
    // s: a hold that drifts is defined no better than to what it drifts in this time
    double sdDrift = 0.10;
    double sdVibrato = 0.010;  // of the width: whole cycles are cut unevenly
    // A string with gain hardly falls in level. Its partials are mixed with each other, and the pitch read from them is
    // less sure.
    double sdGain = 0.8;     // cents where the level stays
    double freeDecay = 6.0;  // dB/s: a string that falls by this and more is taken to be clean
};

// Where in a note a move was found: indices of stretches. Without `stop` it was tried and has not landed.
struct Attempt {
    std::optional<std::size_t> start;    // the plateau it left; empty: it moved at once
    std::optional<std::size_t> stop;     // first place it came to
    std::optional<std::size_t> landing;  // the corrected place, else the same as stop
    double startLevel = 0.0;             // cents
};

// Looks for `move` from stretch `from` on (0: the note's beginning); `next` is the move that will follow under the same
// stroke, so that a release is not taken for a correction. Empty: not tried.
std::optional<Attempt> findAttempt(const Move& move, const Move* next, const Note& note, std::size_t from,
                                   const JudgeConfig& config);

// Whether a bend that comes in slowly still goes up (1) or down (-1) at `now`, foreseen from the points before it as if
// it went on slowing down evenly.
bool comesSlowly(Points points, double now, double way, const JudgeConfig& config);

// Standard deviation of a landing read at `level` from these points; `vibrato` where whole cycles of it were averaged.
double doubtOf(Points window, double level, const Stretch* vibrato, const JudgeConfig& config);

// Fills in all quantities, the verdict and the sentence. `targetCents` is what the landing is held against.
Landing judge(const Move& move, const Note& note, const Attempt& attempt, double targetCents,
              const JudgeConfig& config);

}  // namespace landfall
