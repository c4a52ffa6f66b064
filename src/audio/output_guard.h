// The last step before the loudspeaker: fades in after every start of a device and limits, so that nothing can be
// suddenly loud. One thread.
#pragma once

#include <span>

#include "dsp/units.h"

namespace landfall {

class OutputGuard {
public:
    struct Config {
        double sampleRate = 48000.0;
        // peak, re full scale. Headphones of 110 dB SPL at full scale stay under 98 dB at the worst moment.
        Decibels ceiling{-12.0};
        Seconds fadeIn{1.0};
    };

    explicit OutputGuard(const Config& config);
    // Linear up to half the ceiling, rounded off above it, never past it. What is not a number becomes silence.
    void process(std::span<float> samples) noexcept;
    // A device has (re)started: silence first, then the fade.
    void reset() noexcept { gain = 0.0; }

private:
    double ceiling;
    double step;
    double gain = 0.0;
};

}  // namespace landfall
