#include "dsp/decimator.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace landfall {

// Passes to 0.36 of the output rate, stops at 0.5 + (0.5 - 0.36): what folds lands above the highest partial that is fitted.
// Blackman window, 12 output samples a side (Harris 1978: side lobes below -58 dB).
Decimator::Decimator(int factor) : keepEvery(std::max(1, factor)), countdown(keepEvery) {
    const int half = 12 * keepEvery;
    taps.resize(static_cast<std::size_t>(2 * half + 1));
    if (keepEvery == 1) {
        taps.assign(1, 1.0f);
    } else {
        double sum = 0.0;
        const double cutoff = 0.5 / keepEvery;
        for (int i = -half; i <= half; ++i) {
            const double x = std::numbers::pi * i;
            const double sinc = i == 0 ? 2.0 * cutoff : std::sin(2.0 * cutoff * x) / x;
            const double w = 0.42 + 0.5 * std::cos(x / half) + 0.08 * std::cos(2.0 * x / half);
            taps[static_cast<std::size_t>(i + half)] = static_cast<float>(sinc * w);
            sum += sinc * w;
        }
        for (float& tap : taps) tap = static_cast<float>(tap / sum);
    }
    history.assign(2 * taps.size(), 0.0f);
}

void Decimator::reset() noexcept {
    std::fill(history.begin(), history.end(), 0.0f);
    at = 0;
    countdown = keepEvery;
}

bool Decimator::push(float sample, float& output) noexcept {
    const std::size_t n = taps.size();
    history[at] = sample;
    history[at + n] = sample;
    at = (at + 1) % n;
    if (--countdown > 0) return false;
    countdown = keepEvery;
    const float* window = history.data() + at;
    // Four sums, so that the compiler may vectorise without changing the order of rounding between builds.
    float sums[4] = {};
    std::size_t i = 0;
    for (; i + 4 <= n; i += 4)
        for (std::size_t j = 0; j < 4; ++j) sums[j] += window[i + j] * taps[i + j];
    for (; i < n; ++i) sums[0] += window[i] * taps[i];
    output = (sums[0] + sums[1]) + (sums[2] + sums[3]);
    return true;
}

}  // namespace landfall
