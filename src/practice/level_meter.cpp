#include "src/practice/level_meter.h"

#include <algorithm>
#include <cmath>

namespace landfall {

namespace {

double decibels(double amplitude) { return std::max(-140.0, 20.0 * std::log10(std::max(amplitude, 1e-7))); }

}  // namespace

std::optional<InputLevel> LevelMeter::hear(float sample) {
    const double size = std::abs(static_cast<double>(sample));
    peak = std::max(peak, size);
    squares += size * size;
    atFullScale = size >= 0.9999 ? atFullScale + 1 : 0;
    clipped |= atFullScale >= 3;
    ++count;
    ++heard;
    if (static_cast<double>(count) < sampleRate / 10.0) return std::nullopt;
    silentFor = peak < 1e-6 ? silentFor + 0.1 : 0.0;
    // A full-scale sine is 0 dBFS.
    const InputLevel level{Seconds(static_cast<double>(heard) / sampleRate), Decibels(decibels(peak)),
                           Decibels(decibels(std::sqrt(2.0 * squares / static_cast<double>(count)))), silentFor >= 0.45,
                           clipped};
    peak = squares = 0.0;
    count = 0;
    clipped = false;
    return level;
}

}  // namespace landfall
