// Whether a line can be played on a guitar as it stands. Plain function, any thread.
#pragma once

#include <string>

#include "src/music/guitar.h"
#include "src/music/line.h"

namespace landfall {

// Why not, with the remedy; empty: it can.
std::string otherGuitar(const Line& line, const Guitar& guitar);

}  // namespace landfall
