// Follows the strings of a chord that are known to have been struck together, each with its own pitch, from the stroke to
// the next one: in a sound that lies whole before it, or while it comes. Analysis thread.
#pragma once

#include <array>
#include <cstddef>
#include <memory>
#include <optional>
#include <span>
#include <vector>

#include "dsp/joint_fit.h"
#include "dsp/kept_sound.h"
#include "dsp/units.h"

namespace landfall {

class VoiceTracker {
public:
    struct Config {
        double sampleRate = 16000.0;  // of the samples given
        double hop = 0.006;           // s from frame to frame
        double attack = 0.012;        // s after the stroke that are left out: the pick's noise
        double moving = 0.060;        // s of sound in a fit while strings move ...
        double steady = 0.100;        // ... and where all of them stand
        double strum = 0.030;         // s: strings struck one after another are all sounding by then
    };

    // Where the strings are asked to be, one after the other: all of a stop are reached together.
    struct Stop {
        std::vector<Hertz> pitches;  // one a string, always in the same order
        bool slid = false;           // over frets, so that nothing need be heard on the way
    };

    struct Voice {
        Hertz pitch;
        Cents sd;
        double inharmonicity = 0.0;  // B
        double own = 0.0;            // share of all power that this string alone explains
        double clear = 0.0;          // and this and the next: JointFit::String
        double unshared = 1.0;
        double power = 0.0;  // mean square
    };
    struct Frame {
        double time = 0.0;  // s, counted as the moments asked for are
        std::array<Voice, JointFit::maxStrings> voices{};
        double residual = 1.0;
    };

    explicit VoiceTracker(const Config& config);
    ~VoiceTracker();

    double hop() const;  // s from frame to frame

    // How badly the strings asked explain what sounds after a stroke: the share of the power that is left, 1 where
    // nothing fits. All moments are s.
    double misfit(SoundSpan sound, double stroke, double end, const Stop& asked);
    // The strings from the stroke on, where they could be followed. `stops`: what is struck, then what is asked of it.
    std::vector<Frame> follow(SoundSpan sound, double stroke, double end, std::span<const Stop> stops);
    // The same while the sound comes, in two calls: a stroke, then again and again all the sound that there is, up to
    // `end`. The frames so far, about a fifth of a second late until the end is the last one (`over`); a later call may
    // take back the last few. Valid until the next call. What the last `misfit` found of this stroke is not looked for
    // again.
    void begin(double stroke, std::vector<Stop> stops);
    std::span<const Frame> goOn(SoundSpan sound, double end, bool over);

    // Since when each string sounds as it does in `as`, a frame of so many strings, looked for from a moment on: that
    // moment where it sounded then. To about .01 s; empty where it is not clear, as of a string that hides in another.
    std::vector<std::optional<double>> since(SoundSpan sound, double from, const Frame& as, std::size_t strings);

    // Another note that sounds from one moment to another beside one that is known; empty where none is clearly heard,
    // nor the known one. An octave or a twelfth away none can be.
    struct Pair {
        Voice known, other;  // power: mean square; own: share of all power
        double residual = 1.0;
    };
    std::optional<Pair> beside(SoundSpan sound, double from, double to, Hertz known);

    // Mean square of a sine from one moment to another.
    double powerOf(SoundSpan sound, double from, double to, Hertz pitch);

    // Two strings in unison, or nearly: `apart` holds them as they were while their pitches still lay apart. From
    // stretches of 0.2 s on; empty where nothing fits.
    std::optional<Frame> together(SoundSpan sound, double from, double to, const Stop& asked, const Frame& apart);

private:
    struct Fitted;
    static std::vector<Fitted> apartFrom(std::span<const Fitted> roughs);
    struct State;
    class Course;
    std::unique_ptr<State> state;
    std::unique_ptr<Course> course;  // of the last stroke begun
};

}  // namespace landfall
