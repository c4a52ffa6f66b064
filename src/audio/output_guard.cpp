#include "src/audio/output_guard.h"

#include <algorithm>
#include <cmath>

namespace landfall {

OutputGuard::OutputGuard(const Config& config)
    : ceiling(std::pow(10.0, config.ceiling.value / 20.0)), step(1.0 / (config.fadeIn.value * config.sampleRate)) {}

void OutputGuard::process(std::span<float> samples) noexcept {
    const double knee = 0.5 * ceiling;
    for (float& sample : samples) {
        const double wanted = std::isfinite(sample) ? static_cast<double>(sample) * gain : 0.0;
        gain = std::min(1.0, gain + step);
        const double size = std::abs(wanted);
        const double limited =
            size <= knee ? size : knee + (ceiling - knee) * std::tanh((size - knee) / (ceiling - knee));
        sample = static_cast<float>(std::copysign(limited, wanted));
    }
}

}  // namespace landfall
