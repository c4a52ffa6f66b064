// Tells from the pitch alone whether a move bent the string or slid over frets. Pure functions over the settled stream,
// any thread.
#pragma once

#include "src/music/move.h"
#include "src/practice/pitch_points.h"

namespace landfall {

struct BendOrSlideConfig {
    // A fret is crossed at once: from a fifth to four fifths of its semitone the settled stream takes about 14 ms, its
    // own window; one slide with gain on the battery took more than 17. No hand bends so fast through every semitone of
    // its way: a full step in 100 ms takes 21 ms in its slowest one. A hammer-on and a pull-off jump as a slide does,
    // and are told as one.
    double fretCrossed = 0.0185;
    int widestBend = 4;  // semitones; whatever goes further slid
};

// What brought the pitch from one level to another, both in cents, within `points`: bend (upwards), release (downwards)
// or slide.
Gesture bendOrSlide(Points points, double from, double to, const BendOrSlideConfig& config = {});

}  // namespace landfall
