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
    // `sampleRate` 16 to 192 kHz, `a4` 430 to 450 Hz; `aim` is what a sentence calls right.
    ChordListener(std::vector<Move> moves, double sampleRate, Hertz a4, Cents aim);
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
