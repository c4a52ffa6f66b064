// Finds pick strokes: a sudden rise of the bright part of the signal above what the string did just before. Analysis
// thread.
#pragma once

#include <cstddef>
#include <optional>
#include <utility>
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
    // How much louder a stroke's sound became after its first 12 ms, until 45 ms after it was recognised. A struck
    // string is loudest at once (recorded guitars 2 dB at most); what fades in, as a voice or a tone, grows.
    struct Growth {
        std::size_t sample = 0;  // the stroke's
        Decibels growth;
    };

    explicit OnsetDetector(const Config& config);

    // One sample in; a stroke when one has just been recognised, 1 to 6 ms after it began.
    std::optional<Stroke> push(float sample) noexcept;
    // Of the stroke before, once, by the sample after which it is known.
    std::optional<Growth> growth() noexcept { return std::exchange(known, std::nullopt); }
    void reset() noexcept;

private:
    std::optional<Stroke> endOfBlock() noexcept;
    void goOn(double energy) noexcept;

    std::size_t blockSamples;
    std::vector<double> energies;  // of the last blocks, a ring
    std::size_t write = 0;
    std::size_t blocks = 0;
    std::size_t quietUntil = 0;  // block number
    std::size_t filled = 0;
    double sum = 0.0;
    float last = 0.0f;
    // Of the last stroke: the loudest so far of its beginning, and of what came then.
    std::size_t struckBlock = 0, struckSample = 0;
    double beginning = 0.0, later = 0.0;
    std::optional<Growth> known;
};

}  // namespace landfall
