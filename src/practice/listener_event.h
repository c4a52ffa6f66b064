// What the Listener tells: plain values that the terminal, the window and the store all use. Any thread.
#pragma once

#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "dsp/pitch_frame.h"
#include "src/practice/landing.h"

namespace landfall {

// Every event carries the moment it became known.

struct InputLevel {  // ten times a second
    Seconds at;
    Decibels peak, rms;     // dBFS, of the last tenth of a second; -140 at the least
    bool noSignal = false;  // nothing but digital silence for half a second: a cable, a switch, a volume knob
    bool clipping = false;  // three samples in a row at full scale
};
struct LivePitch {  // the provisional stream, for the eye
    PitchFrame frame;
    std::optional<Cents> fromTarget;  // against the move being asked now ...
    int moveNumber = 1;               // ... which is this one
};
// Several strings that are asked at once, as they are followed, about a quarter of a second late.
struct LiveStrings {
    Seconds at;
    Seconds time;                                  // when it sounded
    int note = 0;                                  // as of PickStroke
    int moveNumber = 1;                            // the move asked then
    std::vector<std::optional<Cents>> fromTarget;  // of each string, from low to high where they start; empty: silent
};
struct PickStroke {
    Seconds at;
    Onset onset;
    int note = 0;  // the number of the note that it begins
};
struct TryBegan {
    Seconds at;
    Seconds onset;
    int note = 0, tryNumber = 0;  // as in Landing
    int moveNumber = 1;           // 1-based within the moves asked
    bool again = false;           // a second stroke on the same note: the try starts anew
};
// A note that stands alone and still sounds began elsewhere than asked. Its Noodling, at its end, says the same.
struct WrongStart {
    Seconds at;
    int note = 0;
    std::string sentence;  // "That was fret 9. Play fret 8."
};
struct ProvisionalLanding {  // 75 to 100 ms after arrival
    Seconds at;
    Landing landing;
};
// 400 ms after arrival, with vibrato 650: verdict and sentence will not change except for what happens later in the
// hold
struct FinalLanding {
    Seconds at;
    Landing landing;
};
struct TryEnded {  // the landing with every quantity; this is the row of the log
    Seconds at;
    Landing landing;
    bool guided = false;  // a drill's: played with the live trace ...
    bool byEar = false;   // ... or without any, until the player chooses to see
};
struct TryStruck {  // "discard that"
    Seconds at;
    int tryNumber = 0;  // every landing that bears it
};
struct Noodling {  // a note that belongs to no try
    Seconds at;
    int note = 0;
    std::string sentence{};          // why it began none, where it stood alone and so was likely meant to; else empty
    Seconds onset{};                 // of a recording: when it was struck, ...
    std::vector<MidiPitch> stays{};  // ... and the pitches at which it stayed, in their order
};
// An echo or reverberation; chorus, phaser, wah, a vibrato pedal, heavy gain.
enum class HeardEffect { ringing, wavering };
struct EffectHeard {  // each once
    Seconds at;
    HeardEffect effect = HeardEffect::ringing;
};

using ListenerEvent = std::variant<InputLevel, LivePitch, PickStroke, TryBegan, ProvisionalLanding, FinalLanding,
                                   TryEnded, TryStruck, Noodling, EffectHeard, WrongStart, LiveStrings>;

// How the asked moves are to be found in what is played.
enum class MoveOrder {
    everyTry,  // practising: the moves are the steps of one try, and each try plays them all again
    // marking: the moves are played in this order, once; some may be missing. Tries are told when the input is over
    once
};

}  // namespace landfall
