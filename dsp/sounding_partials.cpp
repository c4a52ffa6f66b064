#include "dsp/sounding_partials.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>

namespace landfall {

namespace {

// A share of the sound under which partials are empty: what a body, noise and a strong neighbour put there.
constexpr double emptyShare = 0.03;
// Of two strings a fifth apart only 1, 5 and 7 tell, so they must be emptier.
constexpr double emptierFifth = 0.2;
// A string's first partial has at least so much of all, its second so much of the first.
constexpr double firstShare = 0.01, secondShare = 0.01;
constexpr double expectedWithin = 150.0;  // cents
// Of two strings in a shared period each has so much of all, and its first partial so much of it.
constexpr double leastShare = 0.05;

// The power of partials that are multiples of neither.
double powerBetween(const PartialFit::Result& fit, std::size_t a, std::size_t b) {
    double sum = 0.0;
    for (std::size_t k = 1; k <= fit.partials; ++k)
        if (k % a != 0 && k % b != 0) sum += static_cast<double>(fit.power[k - 1]);
    return sum;
}

double powerOf(const PartialFit::Result& fit) { return powerBetween(fit, fit.partials + 1, fit.partials + 1); }

}  // namespace

double shareBetweenMultiples(const PartialFit::Result& fit) {
    return std::min(powerBetween(fit, 2, 2), powerBetween(fit, 3, 3)) / (powerOf(fit) + 1e-20);
}

std::size_t emptyPeriods(const PartialFit::Result& fit, bool pairsToo, std::optional<Hertz> expected) {
    const double all = powerOf(fit);
    for (std::size_t factor : {2u, 3u})
        if (fit.partials >= 2 * factor && powerBetween(fit, factor, factor) < emptyShare * all) return factor;
    if (!pairsToo) return 1;
    // Third, fourth, sixth, fifth. Each string has a first and a second partial: without this, a dying note that has
    // only its second and third partials left would be taken for two.
    constexpr std::array<std::array<std::size_t, 2>, 4> pairs{{{4, 5}, {3, 4}, {3, 5}, {2, 3}}};
    for (const auto& [a, b] : pairs) {
        const auto bare = [&fit, all](std::size_t k) {
            return 2 * k > fit.partials || fit.power[k - 1] < static_cast<float>(firstShare * all)
                   || fit.power[2 * k - 1] < static_cast<float>(secondShare) * fit.power[k - 1];
        };
        if (bare(a) || bare(b)) continue;
        if (powerBetween(fit, a, b) > (a == 2 ? emptierFifth : 1.0) * emptyShare * all) continue;
        if (expected) {
            const auto away = [&](std::size_t k) {
                return std::abs(interval(*expected, Hertz(static_cast<double>(k) * fit.tone.pitch.value)).value);
            };
            if (std::min(away(a), away(b)) < expectedWithin) return away(a) < away(b) ? a : b;
        }
        return powerBetween(fit, b, b) < powerBetween(fit, a, a) ? b : a;
    }
    return 1;
}

std::optional<SharedPeriod> sharedPeriod(const PartialFit::Result& fit) {
    for (std::size_t lower = 3; lower <= 6; ++lower) {
        for (std::size_t upper = lower + 1; upper < 2 * lower && upper <= 8; ++upper) {
            if (std::gcd(lower, upper) != 1 || upper + 1 > fit.partials) continue;
            SharedPeriod found{lower, upper};
            double rest = 0.0;
            for (std::size_t k = 1; k <= fit.partials; ++k) {
                const double power = static_cast<double>(fit.power[k - 1]);
                found.power += power;
                if (k % lower == 0) found.lowerPower += power;
                else if (k % upper == 0) found.upperPower += power;
                else rest += power;
            }
            const auto sounds = [&](std::size_t first, double power) {
                return power > leastShare * found.power
                       && static_cast<double>(fit.power[first - 1]) > leastShare * power;
            };
            if (rest < emptyShare * found.power && sounds(lower, found.lowerPower) && sounds(upper, found.upperPower))
                return found;
        }
    }
    return std::nullopt;
}

}  // namespace landfall
