// Test sounds with a known pitch: partials of an ideal stiff string, white noise, and what goes with them. Plain
// functions.
#pragma once

#include <array>
#include <cmath>
#include <functional>
#include <numbers>
#include <random>
#include <vector>

namespace landfall {

struct StringSound {
    double sampleRate = 48000.0;
    double seconds = 1.0;
    double silence = 0.0;         // before the stroke, seconds
    double inharmonicity = 1e-4;  // B
    double decay = 1.5;           // amplitudes fall to 1/e in this time at partial 1, faster above
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
                value += sound.amplitude * std::sin(0.7 * k) / k * std::exp(-t / sound.decay * (1.0 + 0.15 * k))
                         * std::sin(2.0 * std::numbers::pi * ratio * cycles);
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

// Formants of four vowels: Peterson & Barney, Control methods used in a study of the vowels, J. Acoust. Soc. Am. 24,
// 1952, table II, men and women.
struct Speaker {
    double pitch;                                 // Hz
    std::array<std::array<double, 3>, 4> vowels;  // Hz
};

inline std::array<Speaker, 2> speakers() {
    return {{{110.0, {{{270, 2290, 3010}, {730, 1090, 2440}, {300, 870, 2240}, {660, 1720, 2410}}}},
             {210.0, {{{310, 2790, 3310}, {850, 1220, 2810}, {370, 950, 2670}, {860, 2050, 2850}}}}}};
}

// Syllables on a falling melody, 48 kHz: a glottal pulse train (-12 dB an octave) through three formants that glide
// from vowel to vowel, and up and down with each syllable.
inline std::vector<float> speech(const Speaker& speaker, double seconds) {
    constexpr double rate = 48000.0, syllable = 0.19;
    std::vector<float> samples;
    double phase = 0.0;
    while (static_cast<double>(samples.size()) < seconds * rate) {
        const double t = static_cast<double>(samples.size()) / rate;
        const double place = t / syllable, within = place - std::floor(place);
        const auto number = static_cast<std::size_t>(place);
        const double hertz =
            speaker.pitch
            * std::exp2((2.0 * std::sin(2.0 * std::numbers::pi * 1.3 * t) - 1.5 * std::fmod(t, 2.0)) / 12.0);
        phase += hertz / rate;
        const auto& from = speaker.vowels[number % 4];
        const auto& to = speaker.vowels[(number + 1) % 4];
        double sum = 0.0;
        for (int k = 1; k * hertz < 4000.0; ++k) {
            double gain = 1.0 / (k * k);
            for (std::size_t f = 0; f < 3; ++f) {
                const double formant = from[f] + (to[f] - from[f]) * within, x = k * hertz / formant,
                             width = 90.0 / formant;
                gain *= 1.0 / std::sqrt((1.0 - x * x) * (1.0 - x * x) + x * x * width * width);
            }
            sum += gain * std::sin(2.0 * std::numbers::pi * std::fmod(k * phase, 1.0));
        }
        samples.push_back(
            static_cast<float>(0.02 * sum * (0.06 + 0.94 * std::pow(std::sin(std::numbers::pi * within), 2.0))));
    }
    return samples;
}

}  // namespace landfall
