// What the fits of one string and of several share: where a stiff string's partials lie. Plain functions, any thread.
#pragma once

#include <cmath>
#include <numbers>

namespace landfall {

// How far above `number` times the first partial the partial of that number lies, as a factor: Fletcher & Rossing, The
// Physics of Musical Instruments, 2nd ed., equation 2.67 and section 2.18, written for the first partial instead of f0.
inline double stretched(double inharmonicity, double number) {
    return std::sqrt((1.0 + inharmonicity * number * number) / (1.0 + inharmonicity));
}

constexpr double highestPartialHertz = 5500.0;  // partials up to here are used: the decimator's passband
constexpr double stiffestString = 0.004;        // B; no guitar string comes near (from memory)
constexpr double silentPower = 1e-13;           // mean square
constexpr double twoPi = 2.0 * std::numbers::pi;
constexpr double centsPerLog = 1200.0 / std::numbers::ln2;

}  // namespace landfall
