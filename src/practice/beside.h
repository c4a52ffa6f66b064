// Looks in a recording for a second string that rang where a single note landed. One thread, the analysis thread.
#pragma once

#include <memory>
#include <optional>
#include <span>
#include <vector>

#include "src/practice/landing.h"

namespace landfall {

class BesideListener {
public:
    // `sampleRate` 16 to 192 kHz, `a4` 430 to 450 Hz.
    BesideListener(double sampleRate, Hertz a4);
    ~BesideListener();

    void process(std::span<const float> samples);
    // The input is over. What rang beside each landing, in their order; its sentence says so too. What was played before
    // and rings on through a room is not meant.
    std::vector<std::optional<MidiPitch>> finish(std::span<Landing> landings);

private:
    struct State;
    std::unique_ptr<State> state;
};

}  // namespace landfall
