// A recording of moves of several strings: sound in, how each string of each move landed out. Times count from the first
// sample heard. One thread, the analysis thread.
#pragma once

#include <memory>
#include <span>
#include <vector>

#include "src/practice/chord_landing.h"

namespace landfall {

class ChordListener {
public:
    struct Config {
        double sampleRate = 48000.0;  // 16 to 192 kHz
        Hertz a4 = standardA4;        // 430 to 450 Hz
        Cents aim{25.0};              // what a sentence calls right
        // This guitar's own pitches are known from the moves before that are only struck: where their strings sound.
        Target target = Target::concert;
    };
    ChordListener(std::vector<Move> moves, const Config& config);
    ~ChordListener();

    // Any block size; the sound is kept until the end, 64 kB a second.
    void process(std::span<const float> samples);
    // The input is over. The moves that were heard, in their order.
    std::vector<Landing> finish();

private:
    struct State;
    std::unique_ptr<State> state;
};

}  // namespace landfall
