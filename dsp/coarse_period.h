// Finds the period of a short stretch and which octave it is in, to within a few cents to a quarter tone. Analysis
// thread.
#pragma once

#include <array>
#include <cstddef>
#include <optional>
#include <span>
#include <vector>

#include "dsp/autocorrelation.h"
#include "dsp/units.h"

namespace landfall {

class CoarsePeriod {
public:
    struct Config {
        double sampleRate = 16000.0;
        Hertz lowest{58.0};
        Hertz highest{1800.0};
        Seconds longest{0.048};  // of the stretch
    };

    struct Candidate {
        Hertz pitch;
        double clarity = 0.0;  // 1: perfectly periodic, 0: noise
    };

    explicit CoarsePeriod(const Config& config);

    std::size_t longestSamples() const { return inputSamples; }

    // At most longestSamples(). Empty when the stretch is too short for two periods of anything or has no peak.
    // `near`: prefer the peak within half an octave of it where it is nearly as clear as the best.
    std::optional<Candidate> find(std::span<const float> samples, std::optional<Hertz> near) noexcept;

private:
    struct Peak {
        double lag = 0.0, height = 0.0;
    };
    bool correlate(std::span<const float> samples, std::size_t longestLag) noexcept;
    std::size_t findPeaks(std::size_t longestLag) noexcept;

    Config config;
    std::size_t inputSamples;
    std::size_t lagLimit;
    Autocorrelation correlation;
    std::vector<float> centred;
    std::vector<float> normalised;  // McLeod & Wyvill 2005, equation 9
    std::array<Peak, 64> peaks;
};

}  // namespace landfall
