#include "src/audio/playback.h"

#include <algorithm>
#include <cmath>

namespace landfall {

namespace {

constexpr double soft = 0.010;  // s at both ends: shorter clicks

}  // namespace

void Playback::play(std::shared_ptr<const std::vector<float>> samples, double recordedRate, Decibels loudest) noexcept {
    sound.reset();
    if (!samples || samples->size() < 2 || !(recordedRate > 0.0)) return;
    double peak = 0.0;
    for (const float sample : *samples)
        if (std::isfinite(sample)) peak = std::max(peak, std::abs(static_cast<double>(sample)));
    if (peak <= 0.0) return;
    gain = std::pow(10.0, std::min(0.0, loudest.value) / 20.0) / peak;
    step = recordedRate / rate;
    at = 0.0;
    sound = std::move(samples);
}

void Playback::add(std::span<float> block) noexcept {
    if (!sound) return;
    const std::vector<float>& samples = *sound;
    const auto last = static_cast<double>(samples.size() - 1);
    const double edge = soft * rate * step;
    for (float& out : block) {
        if (at >= last) {
            sound.reset();
            return;
        }
        const auto index = static_cast<std::size_t>(at);
        const double share = at - static_cast<double>(index);
        const double value =
            (1.0 - share) * static_cast<double>(samples[index]) + share * static_cast<double>(samples[index + 1]);
        const double shape = std::min({1.0, at / edge, (last - at) / edge});
        if (std::isfinite(value)) out += static_cast<float>(gain * shape * value);
        at += step;
    }
}

}  // namespace landfall
