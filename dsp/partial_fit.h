// Least-squares fit of a stiff string's partials with a gliding pitch to a short stretch of samples. Analysis thread.
#pragma once

#include <array>
#include <cstddef>
#include <memory>
#include <span>

#include "dsp/units.h"

namespace landfall {

// f_k = k f1 sqrt((1 + B k²) / (1 + B)) (Fletcher & Rossing, The Physics of Musical Instruments, 2nd ed., equation 2.67
// and section 2.18, written for the first partial instead of f0), f1 moving linearly. Amplitudes, f1, its slope and B
// by variable projection: Golub & Pereyra 1973, with Kaufman's (1975) approximation of the derivative.
class PartialFit {
public:
    static constexpr std::size_t maxPartials = 16;

    struct Config {
        double sampleRate = 16000.0;
        std::size_t longestInput = 2400;  // samples
    };

    // What is known of the string before the fit, and what came out of it.
    struct Tone {
        Hertz pitch;                 // of the first partial, at the moment asked for
        double slope = 0.0;          // Hz per second
        double inharmonicity = 0.0;  // B
    };

    struct Request {
        Tone start;
        double moment = 0.0;       // index in samples, may lie between two
        std::size_t partials = 6;  // at most; fewer where they would not fit in below the limit
        int steps = 2;
        bool taper = false;            // weigh with a Hann window instead of evenly
        double slopeSd = 0.0;          // of the start value, cents per second; 0 holds it
        double inharmonicitySd = 0.0;  // 0 holds it
        // let the sd also show how far the partials differ from each other about the pitch
        bool partialsDisagree = false;
    };

    struct Result {
        bool usable = false;
        Tone tone;
        Cents sd;              // of the pitch
        double slopeSd = 0.0;  // cents per second
        double inharmonicitySd = 0.0;
        double residual = 1.0;  // share of the power that the partials do not explain
        std::size_t partials = 0;
        std::array<float, maxPartials> power{};  // of each partial, mean square
    };

    // A fitted tone with its phases: what it goes on to sound like.
    struct Heard {
        Tone tone;
        double moment = 0.0;  // index in samples within what was fitted
        std::size_t partials = 0;
        std::array<float, 2 * maxPartials + 1> amplitudes{};  // cosines, sines, a constant
    };

    explicit PartialFit(const Config& config);
    ~PartialFit();

    Result fit(std::span<const float> samples, const Request& request) noexcept;
    // What the last usable fit left unexplained, a value a sample, weighed with the square root of its window. Valid
    // until the next fit.
    std::span<const float> leftover() const noexcept;
    const Heard& heard() const noexcept;  // by the last usable fit
    // The share of the samples' power that `heard`, gone on, does not explain; the first lies `at` samples after the
    // first one it was fitted to. A few milliseconds at most: within them the pitch is taken as steady.
    double unforeseen(const Heard& heard, std::span<const float> samples, double at) const noexcept;

private:
    struct State;
    std::unique_ptr<State> state;
};

}  // namespace landfall
