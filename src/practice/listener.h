// Sound in, tries and landings out: the one engine behind live playing, files and the simulated player. Times count
// from the first sample heard. One thread, the analysis thread.
#pragma once

#include <memory>
#include <optional>
#include <span>
#include <vector>

#include "dsp/pitch_tracker.h"
#include "dsp/units.h"
#include "src/practice/listener_event.h"
#include "src/practice/targets.h"

namespace landfall {

struct ListenerConfig {
    double sampleRate = 48000.0;  // 16 to 192 kHz
    Hertz a4 = standardA4;        // 430 to 450 Hz
    Target target = Target::concert;
    Cents aim{25.0};      // what a sentence calls good
    OwnFrets ownFrets{};  // from earlier drills on this guitar
    // B of each open string without a capo, string 1 first; 0: not known. May be shorter. A note's first tenth of a
    // second is surer for it.
    std::vector<double> stiffness{};
    int capo = 0;
    std::vector<std::string> stringNames{};  // string 1 first: what is said of several strings names them
};

// Of the settled stream.
struct HeardPitch {
    Seconds at;
    std::optional<Hertz> pitch;
    Decibels level;
    double brightness = 0.0;  // as of a PitchFrame
};

class Listener {
public:
    explicit Listener(const ListenerConfig& config);
    ~Listener();

    // Whatever is in progress is dropped. Moves that chain (the next starts on the note where the last ended) may be
    // played under one stroke.
    void setMoves(std::vector<Move> moves, MoveOrder order);

    // Any block size; the cut does not change the events. They are valid until the next call.
    std::span<const ListenerEvent> process(std::span<const float> samples);
    // The input is over: what is in progress ends here.
    std::span<const ListenerEvent> finish();
    // The program itself sounds for so long from now on, and until it has died away in the room: a microphone may hear
    // it, and must not take it for playing.
    void ownSound(Seconds length);
    // Strikes the try in progress, else the last one, with all its steps: a TryStruck event follows. Its number; empty:
    // there was none.
    std::optional<int> discardLast();
    // As ListenerConfig::stiffness, with what was learned since from clear notes at the places of the moves asked.
    std::vector<double> stiffness() const;
    // As ListenerConfig::ownFrets, with every note since that was held plainly.
    const OwnFrets& ownFrets() const;
    // What sounded from one moment to another, both included, as far as it lies in the last 35 s: longer than a try.
    std::vector<HeardPitch> heard(Seconds from, Seconds to) const;
    // The first move asked that is held against concert pitch only because this guitar's own is not known yet.
    std::optional<Move> lackingTarget() const;

private:
    struct State;
    std::unique_ptr<State> state;
};

}  // namespace landfall
