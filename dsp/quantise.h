// Samples as a 24-bit converter or FLAC file would hold them, so that the same sound gives the same landings live and
// from the kept take. Any thread.
#pragma once

#include <cmath>
#include <cstddef>
#include <cstdint>
#include <span>

namespace landfall {

inline constexpr float fullScale24 = 8388608.0F;  // 2^23

// Samples are heard in blocks of this size, counted from the first one, so that the cut of the input cannot show in what
// is made of them.
inline constexpr std::size_t analysisBlock = 256;

// The nearest 24-bit value, -2^23 to 2^23 - 1; beyond full scale it clips, NaN becomes 0.
inline std::int32_t to24Bit(float sample) noexcept {
    if (std::isnan(sample)) return 0;
    const float scaled = sample * fullScale24;
    if (scaled >= fullScale24 - 1.0F) return 8388607;
    if (scaled <= -fullScale24) return -8388608;
    return static_cast<std::int32_t>(std::lrint(scaled));
}

// Exact: a float's mantissa has 24 bits.
inline float from24Bit(std::int32_t value) noexcept { return static_cast<float>(value) / fullScale24; }

// Everything the Listener hears has been through this; doing it twice changes nothing.
inline float quantise(float sample) noexcept { return from24Bit(to24Bit(sample)); }
inline void quantise(std::span<float> samples) noexcept {
    for (float& sample : samples) sample = quantise(sample);
}

}  // namespace landfall
