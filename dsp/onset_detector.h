// Finds pick strokes: a sudden rise of the bright part of the signal above what the string did just before. Analysis
// thread.
#pragma once

#include <cstddef>
#include <optional>
#include <vector>

#include "dsp/units.h"

namespace landfall {

class OnsetDetector {
public:
    struct Config {
        double sampleRate = 16000.0;
    };

    struct Stroke {
        std::size_t sample = 0;  // about where it began, counted from the first sample pushed
        Decibels rise;
    };

    explicit OnsetDetector(const Config& config);

    // One sample in; a stroke when one has just been recognised, 1 to 6 ms after it began.
    std::optional<Stroke> push(float sample) noexcept;
    void reset() noexcept;

private:
    std::optional<Stroke> endOfBlock() noexcept;

    std::size_t blockSamples;
    std::vector<double> energies;  // of the last blocks, a ring
    std::size_t write = 0;
    std::size_t blocks = 0;
    std::size_t quietUntil = 0;  // block number
    std::size_t filled = 0;
    double sum = 0.0;
    float last = 0.0f;
};

}  // namespace landfall
