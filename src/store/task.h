// What was to be played, as it was at the time: a drill or a phrase may be edited later. Plain values, any thread.
#pragma once

#include <string>

#include "src/music/drill.h"
#include "src/music/line.h"

namespace landfall {

struct Task {
    std::string kind;  // "drill" or "phrase"
    std::string name;
    std::string content;  // a drill's file; of a phrase a line a move: see taskOf
    std::string hash;     // of the three, as 16 hexadecimal digits
};

Task taskOf(const Drill& drill);
// beat, bar, count, gesture, string/fret, from and to as MIDI pitches, target fret, "stroke" and "vibrato" where they
// are so; a tab between two fields, a dash for what is not known.
Task taskOf(const Line& line);

// Of what a task is; its own `hash` does not count.
std::string hashOf(const Task& task);
// FNV-1a, 64 bit (G. Fowler, L. C. Noll, K.-P. Vo, D. Eastlake, draft-eastlake-fnv).
std::string hashOf(std::string_view bytes);

}  // namespace landfall
