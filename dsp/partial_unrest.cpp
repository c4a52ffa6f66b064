#include "dsp/partial_unrest.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <utility>

namespace landfall {

namespace {

constexpr double frameSeconds = 0.005;
// A partial this far below the loudest is moved by noise.
constexpr double heardShare = 1e-3;  // of its power
// Before that the attack is still in the window.
constexpr double unrestAfterSeconds = 0.06;
// An effect's phase moves most while its level stands, a quarter of its cycle later; slow ones turn twice a second.
constexpr double keptSeconds = 0.25;
// Cents: what two ways of a dry string's vibration make beside each other, nine times of ten (0.24 on the battery's
// open clips).
constexpr double dryStrings = 0.25;
// What all partials are shifted by together changes no level between them, and is the larger part: fitted on chorus,
// phaser and wah so that 90 % intervals of landings hold the dry pitch 85 to 95 % of the time.
constexpr double allTogether = 3.0;
constexpr double mostWander = 6.0;  // what a deep chorus does

}  // namespace

Cents PartialUnrest::hear(const Partials& partials) noexcept {
    Kept now{!partials.moving, partials.note, partials.seconds, {}};
    const std::size_t count = std::min(compared, partials.power.size());
    double loudest = 0.0;
    for (std::size_t k = 0; k < count; ++k) loudest = std::max(loudest, static_cast<double>(partials.power[k]));
    for (std::size_t k = 0; k < compared; ++k)
        now.level[k] = k < count ? 0.5 * std::log(static_cast<double>(partials.power[k]) + 1e-14) : -16.0;
    const Kept& before = past[at];
    if (before.heard && before.note == now.note && before.seconds > unrestAfterSeconds && now.heard) {
        const double floor = 0.5 * std::log(heardShare * loudest + 1e-13), seconds = now.seconds - before.seconds;
        std::array<std::pair<double, double>, compared> rates{};  // and amplitudes
        std::size_t heard = 0;
        double half = 0.0;
        for (std::size_t k = 0; k < count; ++k)
            if (now.level[k] > floor && before.level[k] > floor) {
                rates[heard] = {(now.level[k] - before.level[k]) / seconds,
                                std::exp(std::max(now.level[k], before.level[k]))};
                half += 0.5 * rates[heard++].second;
            }
        if (heard >= 3 && seconds > 0.0) {
            auto sorted = rates;
            std::sort(sorted.begin(), sorted.begin() + static_cast<std::ptrdiff_t>(heard));
            std::size_t middle = 0;
            while (middle + 1 < heard && (half -= sorted[middle].second) > 0.0) ++middle;
            const double common = sorted[middle].first;
            double weights = 0.0, squares = 0.0;
            for (std::size_t k = 0, i = 0; k < count; ++k) {
                if (!(now.level[k] > floor && before.level[k] > floor)) continue;
                const double number = static_cast<double>(k + 1),
                             weight = number * number * rates[i].second * rates[i].second;
                const double off = (rates[i].first - common) / (2.0 * std::numbers::pi * number * partials.pitch.value)
                                   * 1200.0 / std::numbers::ln2;
                weights += weight;
                squares += weight * weight * off * off;
                ++i;
            }
            square += (squares / (weights * weights) - square) * frameSeconds / keptSeconds;
        }
    } else if (before.note != now.note) {
        square = 0.0;
    }
    keep(now);
    return Cents(std::min(mostWander, allTogether * std::sqrt(std::max(0.0, square - dryStrings * dryStrings))));
}

void PartialUnrest::keep(const Kept& newest) noexcept {
    past[at] = newest;
    at = (at + 1) % past.size();
}

}  // namespace landfall
