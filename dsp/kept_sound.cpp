#include "dsp/kept_sound.h"

#include <algorithm>

namespace landfall {

KeptSound::KeptSound(double sampleRate)
    : decimator({.sampleRate = sampleRate}), lead(static_cast<double>(decimator.latencySamples()) / sampleRate) {}

void KeptSound::hear(float sample) {
    if (const auto lower = decimator.push(sample)) kept.push_back(*lower);
}

std::size_t KeptSound::before(double moment) const {
    return std::min(kept.size(), static_cast<std::size_t>(std::max(0.0, (moment + lead - origin) * rate())));
}

void KeptSound::forget(std::size_t count) {
    count = std::min(count, kept.size());
    kept.erase(kept.begin(), kept.begin() + static_cast<std::ptrdiff_t>(count));
    origin += static_cast<double>(count) / rate();
}

}  // namespace landfall
