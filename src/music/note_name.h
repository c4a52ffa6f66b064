// Note names and MIDI numbers: "F#4", "Bb3", "E♭2", "66", "66.5". C4 = 60. Plain functions, any thread.
#pragma once

#include <string>
#include <string_view>

#include "dsp/units.h"
#include "src/system/result.h"

namespace landfall {

// Reads a note name (letter, optional # b ♯ ♭, octave -1 to 9) or a MIDI number from 0 to 127.
Result<MidiPitch> parsePitch(std::string_view text);

// The nearest note's name, with ♯ and without octave trouble: 66.2 -> "F♯4".
std::string noteName(MidiPitch pitch);

}  // namespace landfall
