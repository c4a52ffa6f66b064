// A drill: moves repeated at some places on the neck, with tries and rests. Plain values, any thread.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include "src/music/guitar.h"
#include "src/music/move.h"
#include "src/music/target.h"
#include "src/system/result.h"

namespace landfall {

// What another string does meanwhile, in semitones above its own fretted note. A held one: from 0 to 0.
struct StringStep {
    double fromSemitones = 0.0, toSemitones = 0.0;
};

// One gesture of a drill before it has a place: intervals in semitones (frets) from the fretted note, 1 a half step, 2
// a full step, 3 a step and a half, 4 two steps. A release runs from the bent pitch down: from 2 to 0. A pre-bend: from
// 0 (fretted) to 2 (sounding).
struct DrillStep {
    Gesture gesture = Gesture::bend;
    double fromSemitones = 0.0;  // sounding pitch before the gesture, above the fretted note
    double toSemitones = 0.0;    // sounding pitch after it; a slide's target fret = fret + toSemitones
    int fretOffset = 0;          // where this step is fretted, in frets from the drill's place
    // The other strings, in the order of Drill::with; empty: over frets they go along, else they are held.
    std::vector<StringStep> with{};
};

// What a drill is about, and so what its tries are judged by: where they land, whether they stay there until the note
// ends, how they come back, or how slowly they go.
enum class Subject { landing, hold, release, slow };
inline constexpr std::array subjectNames{"landing", "hold", "release", "slow"};

struct Drill {
    std::string name;         // "Half up"
    std::string trains;       // one sentence: what it is for
    std::string how;          // one or two sentences: how to play it ...
    std::string meanwhile{};  // ... and the one that is read while playing; empty: the same
    Subject subject = Subject::landing;
    std::optional<Target> target{};              // what landings are held against; empty: as the player wishes
    std::vector<DrillStep> steps;                // played one after another in one try
    std::vector<NeckPlace> places;               // in this order, `sets` sets at each
    std::vector<std::vector<NeckPlace>> with{};  // at each place, the other strings that are struck too; empty: none
    int tries = 6;                               // in a set, before the rest
    int sets = 1;                                // at each place
    Seconds rest{20.0};                          // after a set
    int guidedTries = 3;                         // the first so many show the live trace
    bool lastSetByEar = true;                    // in the last set nothing is shown until the player chooses to see
};

// A full-step or wider bend, pre-bend or release: counts towards the care limits.
bool isDemanding(const Drill& drill);

// The widest bend, pre-bend or release, in semitones; 0 for drills without one.
double widestBend(const Drill& drill);

// Whether two strings bend at once, or several slide: more friction and more force for the hand than one string.
bool hasDoubleBend(const Drill& drill);
bool hasChordSlide(const Drill& drill);

// Whether the drill slides over twelve frets or more.
bool hasOctaveSlide(const Drill& drill);

// What one try plays at a place, in order. Fails where the guitar has no such place or the slide leaves the neck: names
// it and says what to do.
Result<std::vector<Move>> movesAt(const Drill& drill, const Guitar& guitar, NeckPlace place);

// Every move of the whole drill in playing order: places × sets × tries × steps.
Result<std::vector<Move>> allMoves(const Drill& drill, const Guitar& guitar);

// The drill's places that exist on this guitar, and one line for each that does not.
struct FittedPlaces {
    std::vector<NeckPlace> places;
    std::vector<std::string> missing;
};
FittedPlaces placesOn(const Drill& drill, const Guitar& guitar);

int totalTries(const Drill& drill);

// A try takes about 2 s to get ready and 3 s a step (2 s of hold are marked), 6 s a slow one; measured times replace
// this in a sitting.
Seconds tryLength(const Drill& drill);

// From the first pick stroke to the last mark, rests included.
Seconds drillLength(const Drill& drill);
std::string minutesWords(Seconds length);  // "3.5 min", in half minutes

// "bend a full step, then release to the note" for the prompt and the list.
std::string describeSteps(const Drill& drill);

// "B string 8, 9, 10; G string 7".
std::string describePlaces(const Drill& drill, const Guitar& guitar);

}  // namespace landfall
