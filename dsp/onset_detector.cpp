#include "dsp/onset_detector.h"

#include <algorithm>
#include <cmath>

namespace landfall {

namespace {

constexpr double blockSeconds = 0.00125;
// A period of B1 is 16 ms: looking back over more than one keeps a low string's own pulses from counting as strokes.
constexpr std::size_t lookBack = 22;
constexpr std::size_t recent = 3;  // blocks
// 7 dB over the loudest of the last 27 ms (tests: "a decaying low string strikes once").
constexpr double riseRatio = 5.0;
// Before there is anything to compare with, the noise of a sound that has just begun must not count: 30 dB over
// leastEnergy.
constexpr double firstRiseRatio = 1000.0;
constexpr std::size_t deadBlocks = 40;  // 50 ms
constexpr double beganShare = 0.1;      // a block with so much of the stroke's energy is of it
// -84 dBFS of difference signal: below that there is nothing to strike.
constexpr double leastEnergy = 2e-9;
// A string has reached its loudest after the first: a pick's noise comes before its release. Our own tones fade in over
// 60 ms; the settled stream, 55 ms late, is still to come to a stroke after the second.
constexpr std::size_t beginsBlocks = 10, growsBlocks = 36;
static_assert(growsBlocks < deadBlocks);  // until then there is no other stroke

}  // namespace

OnsetDetector::OnsetDetector(const Config& config)
    : blockSamples(static_cast<std::size_t>(std::lround(blockSeconds * config.sampleRate))),
      energies(lookBack + recent) {}

std::optional<OnsetDetector::Stroke> OnsetDetector::push(float sample) noexcept {
    const double difference = static_cast<double>(sample - last);
    last = sample;
    sum += difference * difference;
    if (++filled < blockSamples) return std::nullopt;
    return endOfBlock();
}

std::optional<OnsetDetector::Stroke> OnsetDetector::endOfBlock() noexcept {
    energies[write] = sum / static_cast<double>(blockSamples);
    sum = 0.0;
    filled = 0;
    const std::size_t size = energies.size();
    const std::size_t newest = write;
    write = (write + 1) % size;
    ++blocks;

    // Two blocks must carry it: a single click is no stroke.
    double now = 0.0;
    for (std::size_t back = 0; back < 2; ++back) now += 0.5 * energies[(newest + size - back) % size];
    goOn(now);

    double before = leastEnergy;
    for (std::size_t back = recent; back < size; ++back)
        before = std::max(before, energies[(newest + size - back) % size]);
    if (blocks < quietUntil || blocks < 2) return std::nullopt;
    if (now < (blocks <= size ? firstRiseRatio : riseRatio) * before) return std::nullopt;
    std::size_t start = 0;
    while (start + 1 < recent && energies[(newest + size - start - 1) % size] > beganShare * now) ++start;
    quietUntil = blocks + deadBlocks;
    const std::size_t end = blocks * blockSamples;
    struckBlock = blocks;
    struckSample = end - std::min(end, (start + 1) * blockSamples);
    beginning = now;
    later = 0.0;
    return Stroke{struckSample, Decibels(10.0 * std::log10(now / before))};
}

void OnsetDetector::goOn(double energy) noexcept {
    if (struckBlock == 0) return;
    double& loudest = blocks <= struckBlock + beginsBlocks ? beginning : later;
    loudest = std::max(loudest, energy);
    if (blocks < struckBlock + growsBlocks) return;
    struckBlock = 0;
    known = Growth{struckSample, Decibels(10.0 * std::log10(std::max(later, leastEnergy) / beginning))};
}

void OnsetDetector::reset() noexcept {
    std::fill(energies.begin(), energies.end(), 0.0);
    write = blocks = quietUntil = filled = struckBlock = struckSample = 0;
    sum = beginning = later = 0.0;
    known.reset();
    last = 0.0f;
}

}  // namespace landfall
