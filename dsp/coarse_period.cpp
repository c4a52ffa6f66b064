#include "dsp/coarse_period.h"

#include <algorithm>
#include <cmath>

namespace landfall {

namespace {

// McLeod & Wyvill, A smarter way to find pitch, ICMC 2005, choose the first peak above 0.8 to 1.0 of the highest.
constexpr double firstPeakShare = 0.88;
// A peak near the pitch followed so far may be this much less clear and still be taken: decays thin out the odd
// partials.
constexpr double followedShare = 0.75;
constexpr double followedWithin = 600.0;   // cents
constexpr double leastHeight = 0.2;        // of a peak
constexpr double silence = 1e-13;          // mean square: digital silence
constexpr double aboveHighest = 1.02;      // so far past the highest pitch a peak may lie
constexpr std::size_t shortestSearch = 8;  // lags

}  // namespace

CoarsePeriod::CoarsePeriod(const Config& wanted)
    : config(wanted), inputSamples(static_cast<std::size_t>(config.longest.value * config.sampleRate)),
      lagLimit(static_cast<std::size_t>(std::ceil(config.sampleRate / config.lowest.value)) + 2),
      correlation({inputSamples, lagLimit}), centred(inputSamples), normalised(lagLimit + 1) {}

// Each lag's correlation as a share of the most it could be. False: there is nothing to hear.
bool CoarsePeriod::correlate(std::span<const float> samples, std::size_t longestLag) noexcept {
    const std::size_t n = samples.size();
    double sum = 0.0;
    for (std::size_t i = 0; i < n; ++i) sum += static_cast<double>(samples[i]);
    const auto mean = static_cast<float>(sum / static_cast<double>(n));
    double energy = 0.0;
    for (std::size_t i = 0; i < n; ++i) {
        centred[i] = samples[i] - mean;
        energy += static_cast<double>(centred[i]) * static_cast<double>(centred[i]);
    }
    if (energy < silence * static_cast<double>(n)) return false;

    const auto correlated = correlation.of(std::span<const float>(centred).first(n));
    double pair = 2.0 * energy;
    normalised[0] = 1.0f;
    for (std::size_t lag = 1; lag <= longestLag; ++lag) {
        const double head = static_cast<double>(centred[lag - 1]);
        const double tail = static_cast<double>(centred[n - lag]);
        pair -= head * head + tail * tail;
        normalised[lag] =
            pair > 1e-9 * energy ? static_cast<float>(2.0 * static_cast<double>(correlated[lag]) / pair) : 0.0f;
    }
    return true;
}

// The tops of the hills after that of lag 0, within the range of pitches.
std::size_t CoarsePeriod::findPeaks(std::size_t longestLag) noexcept {
    const auto shortestLag = static_cast<std::size_t>(std::max(2.0, config.sampleRate / config.highest.value - 1.0));
    std::size_t count = 0, lag = 1;
    while (lag < longestLag && normalised[lag] > 0.0f) ++lag;  // the hill of lag 0
    for (; lag < longestLag && count < peaks.size(); ++lag) {
        const double before = static_cast<double>(normalised[lag - 1]), here = static_cast<double>(normalised[lag]),
                     after = static_cast<double>(normalised[lag + 1 <= longestLag ? lag + 1 : lag]);
        if (lag < shortestLag || here <= leastHeight || here < before || here <= after) continue;
        const double bend = before - 2.0 * here + after;
        const double shift = bend < 0.0 ? std::clamp(0.5 * (before - after) / bend, -0.5, 0.5) : 0.0;
        if (static_cast<double>(lag) + shift < config.sampleRate / (aboveHighest * config.highest.value)) continue;
        peaks[count] = {static_cast<double>(lag) + shift, here - 0.25 * (before - after) * shift};
        ++count;
    }
    return count;
}

std::optional<CoarsePeriod::Candidate> CoarsePeriod::find(std::span<const float> samples,
                                                          std::optional<Hertz> near) noexcept {
    const std::size_t n = std::min(samples.size(), inputSamples);
    const std::size_t longestLag = std::min(lagLimit, n * 5 / 9);  // the stretch holds 1.8 periods
    if (longestLag < shortestSearch || !correlate(samples.first(n), longestLag)) return std::nullopt;
    const std::size_t count = findPeaks(longestLag);
    if (count == 0) return std::nullopt;

    double highest = 0.0;
    for (const Peak& peak : std::span(peaks).first(count)) highest = std::max(highest, peak.height);
    const Peak* chosen = nullptr;
    if (near) {
        double distance = followedWithin;
        for (std::size_t i = 0; i < count; ++i) {
            const double apart = std::abs(interval(*near, Hertz(config.sampleRate / peaks[i].lag)).value);
            if (apart < distance && peaks[i].height >= followedShare * highest) {
                distance = apart;
                chosen = &peaks[i];
            }
        }
    }
    for (std::size_t i = 0; chosen == nullptr; ++i)
        if (peaks[i].height >= firstPeakShare * highest) chosen = &peaks[i];
    return Candidate{Hertz(config.sampleRate / chosen->lag), std::min(1.0, chosen->height)};
}

}  // namespace landfall
