// Measures a tone without anything of the program: its level and its frequency. Samples at `rate` Hz.
#pragma once

#include <algorithm>
#include <cmath>
#include <numbers>
#include <span>

namespace landfall::test {

inline double peak(std::span<const float> samples) {
    double most = 0.0;
    for (const float sample : samples) most = std::max(most, static_cast<double>(std::abs(sample)));
    return most;
}

// Frequency by the phase advance of the first partial between two windows `apart` samples apart; both windows hold
// whole milliseconds.
inline double measuredFrequency(std::span<const float> samples, double expected, double rate) {
    const auto phase = [&](std::size_t from) {
        double re = 0.0;
        double im = 0.0;
        constexpr std::size_t length = 9600;
        for (std::size_t i = 0; i < length; ++i) {
            const double window = 0.5 - 0.5 * std::cos(2.0 * std::numbers::pi * static_cast<double>(i) / length);
            const double angle = 2.0 * std::numbers::pi * expected * static_cast<double>(from + i) / rate;
            re += window * samples[from + i] * std::cos(angle);
            im -= window * samples[from + i] * std::sin(angle);
        }
        return std::atan2(im, re);
    };
    constexpr std::size_t apart = 9600;
    const double turn = std::remainder(phase(4800 + apart) - phase(4800), 2.0 * std::numbers::pi);
    return expected + turn * rate / (2.0 * std::numbers::pi * apart);
}

}  // namespace landfall::test
