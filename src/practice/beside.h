// Looks in a recording for a second string that rang where a single note landed. One thread, the analysis thread.
#pragma once

#include <memory>
#include <span>

#include "src/practice/landing.h"

namespace landfall {

class BesideListener {
public:
    // `sampleRate` 16 to 192 kHz, `a4` 430 to 450 Hz.
    BesideListener(double sampleRate, Hertz a4);
    ~BesideListener();

    void process(std::span<const float> samples);
    // The input is over. Fills in what rang beside each landing, and says so in its sentence. What was played before and
    // rings on through a room is not meant.
    void finish(std::span<Landing> landings);

private:
    struct State;
    std::unique_ptr<State> state;
};

}  // namespace landfall
