// The moves of several strings of a line as they were played: the sound is kept, and each is read from it as a single
// try is. One thread, the analysis thread.
#pragma once

#include <cstddef>
#include <deque>
#include <span>
#include <vector>

#include "dsp/kept_sound.h"
#include "dsp/voice_tracker.h"
#include "src/music/line.h"
#include "src/practice/chord_judge.h"

namespace landfall {

class LineChords {
public:
    // Whether there is any in the line.
    static bool isIn(const Line& line);

    // `sampleRate` 16 to 192 kHz, `a4` 430 to 450 Hz. The line must outlive it.
    LineChords(const Line& line, double sampleRate, Hertz a4);

    void hear(float sample) { kept.hear(sample); }
    Hertz a4() const { return config.a4; }

    // `count` moves from the line's `first` on, under one stroke; times in s of the input.
    struct Played {
        std::size_t first = 0, count = 1;
        double stroke = 0.0, end = 0.0;
        bool operator==(const Played&) const = default;
    };
    struct Reading {
        Played played;
        std::vector<Landing> landings;  // known by their moveNumber; those that did not arrive are left out
        std::vector<VoiceTracker::Frame> frames;
    };
    // Valid until `forget`; the same is not read twice.
    const Reading& read(const Played& played);

    // The sound before a moment of the input.
    void forget(double before);

private:
    const Line& line;
    ChordJudgeConfig config;
    KeptSound kept;
    VoiceTracker voices;
    std::deque<Reading> readings;
};

}  // namespace landfall
