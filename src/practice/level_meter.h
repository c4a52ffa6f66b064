// How loud the input is, ten times a second, and whether it clips or gives nothing at all. One thread, the analysis
// thread.
#pragma once

#include <cstdint>
#include <optional>

#include "src/practice/listener_event.h"

namespace landfall {

class LevelMeter {
public:
    explicit LevelMeter(double givenRate) : sampleRate(givenRate) {}

    // One sample after another; a level where a tenth of a second is full.
    std::optional<InputLevel> hear(float sample);

private:
    double sampleRate;
    std::uint64_t heard = 0;  // samples
    // Of the tenth that is being heard.
    double peak = 0.0, squares = 0.0;
    std::size_t count = 0;
    int atFullScale = 0;  // samples in a row
    bool clipped = false;
    double silentFor = 0.0;  // seconds of digital silence
};

}  // namespace landfall
