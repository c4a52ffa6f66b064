#include "dsp/period_finder.h"

#include <algorithm>
#include <cmath>

namespace landfall {

namespace {

int fftSizeFor(int least) {
    for (int size = least + least % 2;; size += 2) {
        int rest = size;
        for (int factor : {2, 3, 5})
            while (rest % factor == 0) rest /= factor;
        if (rest == 1) return size;
    }
}

}  // namespace

PeriodFinder::PeriodFinder(const Config& given)
    : config(given), fft(fftSizeFor(given.windowSamples + given.longestLag + 1)) {
    const auto size = static_cast<std::size_t>(fftSizeFor(given.windowSamples + given.longestLag + 1));
    padded.resize(size);
    kernel.resize(size);
    correlation.resize(size);
    difference.resize(static_cast<std::size_t>(given.longestLag + 2));
    energy.resize(inputSamples() + 1);
    spectrum.resize(size / 2 + 1);
    other.resize(size / 2 + 1);
}

PeriodFinder::Period PeriodFinder::find(std::span<const float> samples) noexcept {
    const auto window = static_cast<std::size_t>(config.windowSamples);
    const auto longest = static_cast<std::size_t>(config.longestLag);
    // d(lag) = e(0) + e(lag) - 2 r(lag), with r by FFT (de Cheveigne & Kawahara 2002, eq. 7). The kernel is the newest `window` samples,
    // compared with the sound `lag` earlier.
    std::fill(padded.begin(), padded.end(), 0.0f);
    std::copy(samples.begin(), samples.end(), padded.begin());
    std::fill(kernel.begin(), kernel.end(), 0.0f);
    std::copy(samples.end() - static_cast<std::ptrdiff_t>(window), samples.end(), kernel.begin());
    fft.forward(padded, spectrum);
    fft.forward(kernel, other);
    for (std::size_t i = 0; i < spectrum.size(); ++i) spectrum[i] *= std::conj(other[i]);
    fft.inverse(spectrum, correlation);
    const float scale = 1.0f / static_cast<float>(padded.size());
    energy[0] = 0.0;
    for (std::size_t i = 0; i < samples.size(); ++i) energy[i + 1] = energy[i] + static_cast<double>(samples[i]) * samples[i];
    const std::size_t newest = samples.size() - window;
    const double own = energy[samples.size()] - energy[newest];
    double running = 0.0;
    difference[0] = 1.0f;
    for (std::size_t lag = 1; lag <= longest; ++lag) {
        const std::size_t start = newest - lag;
        const double d = std::max(0.0, own + (energy[start + window] - energy[start]) - 2.0 * static_cast<double>(correlation[start] * scale));
        running += d;
        difference[lag] = running > 0.0 ? static_cast<float>(d * static_cast<double>(lag) / running) : 1.0f;
    }
    std::size_t best = 0;
    for (auto lag = static_cast<std::size_t>(config.shortestLag); lag < longest; ++lag) {
        if (difference[lag] >= config.threshold) continue;
        while (lag + 1 < longest && difference[lag + 1] < difference[lag]) ++lag;
        best = lag;
        break;
    }
    if (best == 0) {
        best = static_cast<std::size_t>(config.shortestLag);
        for (std::size_t lag = best; lag < longest; ++lag)
            if (difference[lag] < difference[best]) best = lag;
    }
    const double left = difference[best - 1], mid = difference[best], right = difference[best + 1];
    const double curve = left - 2.0 * mid + right;
    const double shift = curve > 1e-12 ? std::clamp(0.5 * (left - right) / curve, -0.5, 0.5) : 0.0;
    return {static_cast<double>(best) + shift, mid};
}

}  // namespace landfall
