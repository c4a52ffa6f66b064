// Sound in, tries and landings out: the one engine behind live playing, files and the simulated player. Times count from the first sample
// heard. One thread, the analysis thread.
#pragma once

#include <memory>
#include <optional>
#include <span>
#include <variant>
#include <vector>

#include "dsp/pitch_tracker.h"
#include "dsp/units.h"
#include "src/practice/landing.h"

namespace landfall {

// What the Listener has to say. Every event carries the moment it became known.

struct InputLevel {             // ten times a second
    Seconds at;
    Decibels peak, rms;         // dBFS, of the last tenth of a second; -140 at the least
    bool noSignal = false;      // nothing but digital silence for half a second: a cable, a switch, a volume knob
    bool clipping = false;      // three samples in a row at full scale
};
struct LivePitch {              // the provisional stream, for the eye
    PitchFrame frame;
    std::optional<Cents> fromTarget;  // against the move being asked now
};
struct PickStroke {
    Seconds at;
    Onset onset;
};
struct TryBegan {
    Seconds at;
    Seconds onset;
    int moveNumber = 1;         // 1-based within the moves asked
    bool again = false;         // a second stroke on the same note: the try starts anew
};
struct ProvisionalLanding {     // about 100 ms after arrival
    Seconds at;
    Landing landing;
};
struct FinalLanding {           // 400 ms after arrival, with vibrato 650: verdict and sentence will not change except for what happens later in the hold
    Seconds at;
    Landing landing;
};
struct TryEnded {               // the landing with every quantity; this is the row of the log
    Seconds at;
    Landing landing;
};
struct TryStruck {              // "discard that"
    Seconds at;
    int moveNumber = 1;
    Seconds onset;              // of the landing that was struck
};
struct Noodling {               // a note that belongs to no try
    Seconds at;
    Seconds onset;
};
struct NoTry {                  // none for 20 s; said again every 20 s
    Seconds at;
};
struct StringSlipped {          // three starts in a row more than 6 cents off to the same side
    Seconds at;
    std::optional<int> string;  // known where the move has a place
    Cents offset;               // median of the three, + sharp
};

using ListenerEvent = std::variant<InputLevel, LivePitch, PickStroke, TryBegan, ProvisionalLanding, FinalLanding, TryEnded, TryStruck,
                                   Noodling, NoTry, StringSlipped>;

// How the asked moves are to be found in what is played.
enum class MoveOrder {
    everyTry,  // practising: the moves are the steps of one try, and each try plays them all again
    once       // marking: the moves are played in this order, once; some may be missing
};

struct ListenerConfig {
    double sampleRate = 48000.0;  // 16 to 192 kHz
    Hertz a4 = standardA4;        // 430 to 450 Hz
    Target target = Target::concert;
};

class Listener {
public:
    explicit Listener(const ListenerConfig& config);
    ~Listener();
    Listener(Listener&&) noexcept;
    Listener& operator=(Listener&&) noexcept;

    // Whatever is in progress is dropped. Moves that chain (the next starts on the note where the last ended) may be played under one stroke.
    void setMoves(std::vector<Move> moves, MoveOrder order);
    void setTarget(Target target);

    // Any block size; the cut does not change the events. They are valid until the next call.
    std::span<const ListenerEvent> process(std::span<const float> samples);
    // The input is over: what is in progress ends here.
    std::span<const ListenerEvent> finish();
    // Strikes the last try that ended, or the one in progress: a TryStruck event follows. False: there was none.
    bool discardLast();
    void reset();  // as freshly made, the moves kept

private:
    struct State;
    std::unique_ptr<State> state;
};

}  // namespace landfall
