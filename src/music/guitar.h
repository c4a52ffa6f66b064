// The instrument: strings, tuning, capo, reference pitch, and which pitch each place gives. Plain values, any thread.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "dsp/units.h"
#include "src/music/move.h"
#include "src/system/result.h"

namespace landfall {

struct Guitar {
    std::string name = "standard";
    std::vector<MidiPitch> openStrings{MidiPitch(64), MidiPitch(59), MidiPitch(55),
                                       // string 1 (highest) first, no capo
                                       MidiPitch(50), MidiPitch(45), MidiPitch(40)};
    int capo = 0;          // fret; frets of a NeckPlace count from it
    int highestFret = 22;  // counted from the nut
    bool leftHanded = false;
    Hertz a4 = standardA4;  // 430 to 450 Hz

    // For the bending model. A .010 set and a 25.5 in scale are the commonest on electric guitars (common practice).
    std::vector<double> gaugesInch{0.010, 0.013, 0.017, 0.026, 0.036, 0.046};  // string 1 first; may be shorter
    int plainStrings = 3;  // the first so many are plain steel; 2 with a wound third
    double scaleMm = 647.7;
    // What a player may tell of how it is set up; 0: not told.
    double radiusMm = 0.0;  // of the fretboard; 0.5 m and more is nearly flat
    double actionMm = 0.0;  // the lowest string over the twelfth fret

    // Inharmonicity B of each open string without a capo, string 1 first, learned while playing; 0: not known yet. May
    // be shorter.
    std::vector<double> stiffness{};

    int stringCount() const { return static_cast<int>(openStrings.size()); }
    int highestPlayedFret() const { return highestFret - capo; }  // as a NeckPlace counts
    bool operator==(const Guitar&) const = default;
};

// Fails with what is wrong and the range allowed: 4 to 9 strings from B1 to B4, frets 12 to 36, capo on the neck's
// lower half, A4 430 to 450 Hz, and so on. B1 is the lowest note that the tracker follows.
Result<void> checkGuitar(const Guitar& guitar);

// Open strings, string 1 first, from "standard", "half step down", "whole step down", "drop D", "seven strings", or
// from note names with the lowest string first: "D2 A2 D3 G3 A3 D4". Names without octaves ("D A D G A D", "DADGAD")
// are set nearest to standard.
Result<std::vector<MidiPitch>> parseTuning(std::string_view text);

// "standard", "drop D", ... or the notes, lowest string first: "D2 A2 D3 G3 A3 D4".
std::string tuningName(const std::vector<MidiPitch>& openStrings);

// One line: "6 strings, drop D (D2 A2 D3 G3 B3 E4), capo on 2, 22 frets, right-handed, A4 = 440 Hz".
std::string describeGuitar(const Guitar& guitar);

// One for each string, as typed or kept, with spaces or commas between them: "0.010 0.013". Empty where anything else
// stands there.
std::vector<double> numbersIn(std::string_view text);

// What else there is to it: "strings 0.010 to 0.046 in, third plain, scale 647.7 mm, radius 305 mm, action 1.6 mm".
std::string describeSetUp(const Guitar& guitar);

bool hasPlace(const Guitar& guitar, NeckPlace place);

// The fretted pitch in equal temperament. Precondition: hasPlace.
MidiPitch pitchAt(const Guitar& guitar, NeckPlace place);

struct StringName {
    std::string brief;  // "G"; on other tunings "3rd"
    std::string whole;  // "G string", "3rd string (F♯)"
};
StringName stringNames(const Guitar& guitar, int string);
// The brief names of all strings, string 1 first.
std::vector<std::string> briefNames(const Guitar& guitar);
// As a player says it: "G string", "low E string"; a string tuned otherwise: "3rd string (F♯)".
std::string stringName(const Guitar& guitar, int string);

// "G string · fret 7", "G string · open".
std::string placeName(const Guitar& guitar, NeckPlace place);
// Of several strings, from low to high: "D 2 + B open".
std::string shapeName(const Guitar& guitar, NeckPlace place, std::vector<NeckPlace> others);

}  // namespace landfall
