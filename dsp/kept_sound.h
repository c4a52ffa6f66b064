// The input at the working rate, kept for who looks back at it. Moments count in seconds of the input. Analysis thread.
#pragma once

#include <cstddef>
#include <span>
#include <vector>

#include "dsp/decimator.h"

namespace landfall {

// Samples in which a moment comes by so much later (s) than where it is counted from; negative once the first ones were
// forgotten.
struct SoundSpan {
    std::span<const float> samples;
    double later = 0.0;
};

class KeptSound {
public:
    explicit KeptSound(double sampleRate);  // 16 to 192 kHz

    void hear(float sample);

    double rate() const { return decimator.workingRate(); }
    SoundSpan all() const { return {kept, lead - origin}; }
    std::span<const float> samples() const { return kept; }
    double end() const { return static_cast<double>(kept.size()) / rate() - lead + origin; }

    // How many samples lie before a moment.
    std::size_t before(double moment) const;
    void forget(std::size_t count);  // the first so many

private:
    Decimator decimator;
    double lead;          // s: how much later a moment of the input comes at the working rate
    double origin = 0.0;  // s: what has been forgotten
    std::vector<float> kept;
};

}  // namespace landfall
