// A line of moves as a Standard MIDI File 1.0, format 1 (MIDI Manufacturers Association, 1996): a track and a channel a
// string, every bend and slide drawn with the pitch wheel. Plain functions, any thread.
#pragma once

#include <string>

#include "src/music/line.h"

namespace landfall {

// Tempo in quarters a minute, 10 to 400. The line begins after a quarter of silence, room for a slide onto its first
// note. A string plays one note at a time (controller 68, legato): where notes overlap, one is to go on into the
// next without a stroke. `program` is General MIDI's from 0, a clean electric guitar.
std::string lineAsMidi(const Line& line, double tempo, int program = 27);

}  // namespace landfall
