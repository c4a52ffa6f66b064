// Test sounds with a known pitch: partials of an ideal stiff string, white noise, and what goes with them. Plain functions.
#pragma once

#include <cmath>
#include <functional>
#include <numbers>
#include <random>
#include <vector>

namespace landfall {

struct StringSound {
    double sampleRate = 48000.0;
    double seconds = 1.0;
    double silence = 0.0;        // before the stroke, seconds
    double inharmonicity = 1e-4;  // B
    double decay = 1.5;          // amplitudes fall to 1/e in this time at partial 1, faster above
    double amplitude = 0.2;
    int partials = 24;
    double noise = 0.0;  // rms
    unsigned seed = 1;
};

// `pitch(t)`: frequency of the first partial, t seconds after the stroke.
inline std::vector<float> stringSound(const StringSound& sound, const std::function<double(double)>& pitch) {
    const auto total = static_cast<std::size_t>((sound.silence + sound.seconds) * sound.sampleRate);
    const auto first = static_cast<std::size_t>(sound.silence * sound.sampleRate);
    std::vector<float> samples(total);
    std::mt19937 random(sound.seed);
    std::normal_distribution<double> gauss;
    double cycles = 0.0;
    for (std::size_t n = 0; n < total; ++n) {
        double value = sound.noise * gauss(random);
        if (n >= first) {
            const double t = static_cast<double>(n - first) / sound.sampleRate;
            const double f = pitch(t);
            for (int k = 1; k <= sound.partials; ++k) {
                const double ratio = k * std::sqrt((1.0 + sound.inharmonicity * k * k) / (1.0 + sound.inharmonicity));
                if (ratio * f > 0.45 * sound.sampleRate) break;
                value += sound.amplitude * std::sin(0.7 * k) / k * std::exp(-t / sound.decay * (1.0 + 0.15 * k)) *
                         std::sin(2.0 * std::numbers::pi * ratio * cycles);
            }
            cycles += f / sound.sampleRate;
        }
        samples[n] = static_cast<float>(value);
    }
    return samples;
}

inline std::vector<float> stringSound(const StringSound& sound, double hertz) {
    return stringSound(sound, [hertz](double) { return hertz; });
}

}  // namespace landfall
