// The instrument: strings, tuning, capo, reference pitch. Plain values, any thread.
#pragma once

#include <string>
#include <vector>

#include "dsp/units.h"
#include "src/music/move.h"

namespace landfall {

struct Guitar {
    std::string name = "standard";
    std::vector<MidiPitch> openStrings{MidiPitch(64), MidiPitch(59), MidiPitch(55),
                                       MidiPitch(50), MidiPitch(45), MidiPitch(40)};  // string 1 (highest) first, no capo
    int capo = 0;           // fret; frets of a NeckPlace count from it
    int highestFret = 22;   // counted from the nut
    bool leftHanded = false;
    Hertz a4 = standardA4;  // 430 to 450 Hz

    int stringCount() const { return static_cast<int>(openStrings.size()); }
};

}  // namespace landfall
