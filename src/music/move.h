// What is asked of the player: one gesture from a note to a note, and where on the neck. Plain values, any thread.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "dsp/units.h"
#include "src/music/gesture.h"
#include "src/system/result.h"

namespace landfall {

// Where the left hand is: string 1 is the highest, fret 0 the open string, both counted from the capo.
struct NeckPlace {
    int string = 1;
    int fret = 0;
    bool operator==(const NeckPlace&) const = default;
};

// A pre-bend starts on the fretted note `from` and sounds as `to`; note and vibrato have both the same.
struct Move {
    Gesture gesture = Gesture::bend;
    MidiPitch from;
    MidiPitch to;
    std::optional<NeckPlace> place;  // where it starts; empty for a move known by its notes only
    std::optional<int> targetFret;   // slides: the fret asked for
    bool asHeard = false;            // bend, release or slide, whichever is heard: the gesture is not known yet
    // The other strings that are struck with it, from low to high where they start; one that is only held is a note.
    std::vector<Move> with{};

    double width() const { return to.value - from.value; }  // in semitones, up or down
    double direction() const { return to > from ? 1.0 : to < from ? -1.0 : 0.0; }
    // What its pick stroke sounds: of a pre-bend the bent note.
    MidiPitch struckNote() const { return kindOf(gesture).fromStroke ? to : from; }
    // What the finger stands on: of a release the note it comes back to.
    MidiPitch frettedNote() const { return kindOf(gesture).bends && to < from ? to : from; }
    bool operator==(const Move&) const = default;
};

// Whether `after` can follow `before` under the same stroke: it starts on the note where that one ended.
bool goesOn(const Move& before, const Move& after);

// The gesture's name, or "any" where it is not known yet.
std::string_view gestureName(const Move& move);

// Reads GESTURE:FROM:TO, for example bend:D4:E4 or slide:52:64; any:D4:E4 for a bend or a slide, whichever is heard.
Result<Move> parseMove(std::string_view text);

}  // namespace landfall
