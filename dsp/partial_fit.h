// Fits several partials of a stiff string, f_k = k f0 sqrt(1 + B k^2), with a common linear glide, to a short window. One thread.
#pragma once

#include <memory>
#include <span>

#include "dsp/units.h"

namespace landfall {

class PartialFit {
public:
    struct Config {
        double sampleRate = 16000.0;
        int longestWindow = 1200;  // samples
        int mostPartials = 8;
    };
    // What is known before, and what is found. Times are at the window's middle.
    struct String {
        double f1 = 0.0;            // Hz, first partial
        double glide = 0.0;         // relative change a second
        double inharmonicity = 0.0;
    };
    struct Reading {
        String string;
        double sdCents = 1e9;       // of f1, from the residual (Cramer-Rao form with the measured noise)
        double residual = 1.0;      // energy left over that of the window, 0 to 1
    };

    explicit PartialFit(const Config& config);
    ~PartialFit();

    // Gauss-Newton on {f1, glide, B} with the partials' amplitudes solved along (variable projection; Golub & Pereyra 1973).
    // `inharmonicitySd` is how well B is known beforehand; `steps` how many iterations.
    Reading fit(std::span<const float> window, const String& start, int partials, double inharmonicitySd, int steps) noexcept;

private:
    struct Work;
    Config config;
    std::unique_ptr<Work> work;
};

}  // namespace landfall
