#include "dsp/decimator.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "dsp/stiff_string.h"

namespace landfall {

namespace {

// What folds back may reach down to the highest partial that is used, and no lower.
constexpr double passbandHertz = highestPartialHertz;
constexpr double lowestWorkingRate = 14500.0;
constexpr double stopbandDecibels = 75.0;

// Modified Bessel function of the first kind, order 0, by its power series (Abramowitz & Stegun 1964, 9.6.12).
double besselI0(double x) {
    double sum = 1.0, term = 1.0;
    for (int k = 1; k < 40; ++k) {
        term *= (x / (2.0 * k)) * (x / (2.0 * k));
        sum += term;
    }
    return sum;
}

// Kaiser, Nonrecursive digital filter design using the I0-sinh window function, 1974: length and beta from attenuation
// and width.
std::vector<float> lowpass(double sampleRate, double workingRate) {
    const double stop = workingRate - passbandHertz;
    const double width = 2.0 * std::numbers::pi * (stop - passbandHertz) / sampleRate;
    const auto half = static_cast<std::size_t>(std::ceil((stopbandDecibels - 7.95) / (2.285 * width) / 2.0));
    const double beta = 0.1102 * (stopbandDecibels - 8.7);
    const double cutoff = (stop + passbandHertz) / sampleRate;  // of half the sample rate
    std::vector<float> taps(2 * half + 1);
    double sum = 0.0;
    std::vector<double> exact(taps.size());
    for (std::size_t i = 0; i < taps.size(); ++i) {
        const double n = static_cast<double>(i) - static_cast<double>(half);
        const double sinc = n == 0.0 ? cutoff : std::sin(std::numbers::pi * cutoff * n) / (std::numbers::pi * n);
        const double place = n / static_cast<double>(half);
        exact[i] = sinc * besselI0(beta * std::sqrt(std::max(0.0, 1.0 - place * place)));
        sum += exact[i];
    }
    for (std::size_t i = 0; i < taps.size(); ++i) taps[i] = static_cast<float>(exact[i] / sum);
    return taps;
}

}  // namespace

Decimator::Decimator(const Config& wanted) : config(wanted) {
    ratio = static_cast<std::size_t>(std::max(1.0, std::floor(config.sampleRate / lowestWorkingRate)));
    taps = ratio == 1 ? std::vector<float>{1.0f} : lowpass(config.sampleRate, workingRate());
    // 12 Hz: two octaves below the lowest string; its phase bends a partial at 60 Hz by less than 0.01 cents.
    blockerPole = std::exp(-2.0 * std::numbers::pi * 12.0 / workingRate());
    line.assign(2 * taps.size(), 0.0f);
}

double Decimator::workingRate() const { return config.sampleRate / static_cast<double>(ratio); }

std::optional<float> Decimator::push(float sample) noexcept {
    const float clean = std::isfinite(sample) ? std::clamp(sample, -16.0f, 16.0f) : 0.0f;
    line[write] = clean;
    line[write + taps.size()] = clean;
    if (++write == taps.size()) write = 0;
    if (++phase < ratio) return std::nullopt;
    phase = 0;
    const float* oldest = line.data() + write;
    float sums[4] = {};
    std::size_t i = 0;
    for (; i + 4 <= taps.size(); i += 4)
        for (std::size_t lane = 0; lane < 4; ++lane) sums[lane] += taps[i + lane] * oldest[i + lane];
    for (; i < taps.size(); ++i) sums[0] += taps[i] * oldest[i];
    const double filtered = static_cast<double>((sums[0] + sums[1]) + (sums[2] + sums[3]));
    blockerOutput = filtered - blockerInput + blockerPole * blockerOutput;
    blockerInput = filtered;
    return static_cast<float>(blockerOutput);
}

void Decimator::reset() noexcept {
    std::fill(line.begin(), line.end(), 0.0f);
    write = phase = 0;
    blockerInput = blockerOutput = 0.0;
}

}  // namespace landfall
