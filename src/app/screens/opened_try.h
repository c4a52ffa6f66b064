// How a try of the log is shown again: its words, figures, curve and sound. Plain values, any thread.
#pragma once

#include <string>
#include <vector>

#include "gui/snapshot.h"
#include "src/practice/tally.h"
#include "src/store/log.h"

namespace landfall {

std::string dayWords(CalendarTime time);   // "24 November"; of another year than this one "24 November 2026"
std::string dateWords(CalendarTime time);  // "24 November 19:10"
// "3 tries, 2 inside"; of several gestures "bends 2 of 3 inside, slides 1 of 1".
std::string resultWords(const std::vector<GestureTally>& gestures);
std::string moveWords(const Move& move);  // "full step", "release a full step", "slide an octave"
bool onGuitar(const Move& move, const Guitar& guitar);

Trace traceOf(const LoggedTry& one, const TryCurve& curve);
// Tries over one another, the last one in front unless they are all of before.
Practice sweepOf(std::vector<Trace> traces, const LoggedTry& like, bool before);

// Whether an opened try can be heard.
struct TrySound {
    bool heard = false;  // it has been read
    bool playing = false, noOutput = false;
    std::string none{};                        // why it cannot be heard
    static TrySound of(const LoggedTry& one);  // to be read, where it was kept
    std::string words() const;
};
// Without its sweep.
OpenedTry openedTry(const LoggedTry& one, const Guitar& guitar, const TrySound& sound);

}  // namespace landfall
