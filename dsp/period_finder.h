// YIN's cumulative mean normalised difference over an FFT: a coarse period and how periodic the sound is. One thread.
#pragma once

#include <complex>
#include <optional>
#include <span>
#include <vector>

#include "dsp/fft.h"

namespace landfall {

class PeriodFinder {
public:
    struct Config {
        int windowSamples = 1024;  // integration window
        int shortestLag = 8;
        int longestLag = 280;
        float threshold = 0.15f;   // de Cheveigne & Kawahara 2002, step 4
    };
    struct Period {
        double samples = 0.0;
        double aperiodicity = 1.0;  // d' at the period: 0 = perfectly periodic
    };

    explicit PeriodFinder(const Config& config);
    std::size_t inputSamples() const { return static_cast<std::size_t>(config.windowSamples + config.longestLag + 1); }

    // The newest inputSamples() samples. `near`: a lag to prefer among equally good ones.
    Period find(std::span<const float> samples) noexcept;

private:
    Config config;
    RealFft fft;
    std::vector<float> padded, kernel, correlation, difference;
    std::vector<double> energy;
    std::vector<std::complex<float>> spectrum, other;
};

}  // namespace landfall
