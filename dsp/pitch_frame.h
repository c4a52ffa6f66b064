// What the pitch tracker says at one moment. Times count from the first sample it was given. Plain values, any thread.
#pragma once

#include <optional>

#include "dsp/units.h"

namespace landfall {

// Pitch is the frequency of the first partial, f1 = f0 * sqrt(1 + B).
struct PitchFrame {
    static constexpr Decibels noOtherNote{-60.0};
    static constexpr Decibels twoStrings{-9.0};

    Seconds available;           // end of the last sample that went into this frame
    Seconds centre;              // the moment it describes, <= available
    std::optional<Hertz> pitch;  // empty: no pitch
    Cents sd;                    // the frame's own standard deviation; meaningless without a pitch
    Decibels level;              // dBFS around centre, -140 at the least
    double inharmonicity = 0.0;  // B that the frame was fitted with; 0 where unknown
    // Settled frames: how strong a second note sounds beside the pitch, over all that sounds; noOtherNote where none is
    // heard. A unison, an octave and a twelfth share their partials with the pitch and stay unheard. Two strings picked
    // alike: above twoStrings.
    Decibels otherNote = noOtherNote;
    // settled frames: the part of sd that stays for tenths of a second, where something between string and computer
    // moves the pitch
    Cents wander{0.0};
    double inharmonicitySd = 0.0;  // of B where this frame's own sound showed it, held still; else 0
    // settled frames: where the power lies, as the mean number of its partials (1: all in the first); 0 where unknown
    double brightness = 0.0;
};

// A pick stroke.
struct Onset {
    Seconds available;  // when it was known
    Seconds time;       // when the string was struck
    Decibels rise;      // level when it was known over the level before the stroke
};

// How a stroke's sound went on, known 50 ms after it: how much louder it became than in its first 12 ms. A struck string
// is loudest at once; a voice, or a tone that fades in, grows.
struct Growth {
    Seconds time;  // the stroke's
    Decibels growth;
};

// Where the sound breaks with what was before it: a pick stroke, which can be as weak as the frets of a slide or a
// pull-off.
struct Break {
    Seconds time;
    double strength = 0.0;  // nepers over all bands; strokes mostly above 0.2, frets below
};

}  // namespace landfall
