// Hears a second string that rings along with a single note: both are fitted together in the sound itself. Times in
// seconds of the input. One thread, the analysis thread.
#pragma once

#include <deque>
#include <map>
#include <optional>
#include <utility>

#include "dsp/kept_sound.h"
#include "dsp/pitch_frame.h"
#include "dsp/voice_tracker.h"
#include "src/music/move.h"

namespace landfall {

class BesideEar {
public:
    // Both outlive it. `a4` 430 to 450 Hz.
    BesideEar(const KeptSound& sound, VoiceTracker& voices, Hertz a4) : kept(sound), tracker(voices), reference(a4) {}

    // A settled frame of the note that was struck then: what has sounded before is an echo, or the room.
    void heard(const PitchFrame& frame, double stroke);
    void forget(double before);
    // Whether a pitch (cents on the MIDI scale) sounded before a note's stroke, or until then its way went through it.
    bool hasSounded(double stroke, double time, double cents) const;

    struct Other {
        MidiPitch note;
        bool asLoud = false;  // as two strings that are picked alike
    };
    // Where a note landed that was struck then: beside `known`, come to from `from`. Empty too where the hold is too
    // short to say.
    std::optional<Other> atHold(double stroke, double begin, double end, MidiPitch known, MidiPitch from) const;
    // The string struck along with the one that was asked, as loud; the answer is known a quarter second later.
    std::optional<MidiPitch> atStroke(double stroke, MidiPitch asked) const;
    // Whether the asked string went on its way until then, if it was asked to, and the other did not.
    bool moved(double stroke, double until, const Move& asked, MidiPitch other) const;

private:
    struct Sounded {
        double time = 0.0, cents = 0.0;
        double note = 0.0;  // the stroke before it
    };
    bool rose(double stroke, double from, double to, Hertz pitch) const;

    const KeptSound& kept;
    VoiceTracker& tracker;
    Hertz reference;
    std::deque<Sounded> sounded;
    mutable std::map<std::pair<double, double>, std::optional<MidiPitch>> struck;  // by stroke and what was asked
};

}  // namespace landfall
