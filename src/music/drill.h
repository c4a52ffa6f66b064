// A drill: moves repeated at some places on the neck, with tries and rests. Plain values, any thread.
#pragma once

#include <string>
#include <vector>

#include "src/music/move.h"

namespace landfall {

// One gesture of a drill before it has a place: intervals in semitones from the fretted note.
struct DrillStep {
    Gesture gesture = Gesture::bend;
    double fromSemitones = 0.0;  // sounding pitch before the gesture, above the fretted note
    double toSemitones = 0.0;    // sounding pitch after it; a slide's target fret = fret + toSemitones
};

struct Drill {
    std::string name;     // "Half up"
    std::string trains;   // one sentence: what it is for
    std::string how;      // one or two sentences: how to play it
    std::vector<DrillStep> steps;   // played one after another in one try
    std::vector<NeckPlace> places;  // in this order, triesPerPlace at each
    int tries = 6;                  // in a set, before the rest
    int sets = 1;
    Seconds rest{20.0};             // after a set
    bool demanding = false;         // full step or wider: counts towards the care limits
};

}  // namespace landfall
