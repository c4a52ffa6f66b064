// Which of a fit's partials sound, and what period that tells: one taken too long, or one that two strings share.
// Analysis thread.
#pragma once

#include <cstddef>
#include <optional>

#include "dsp/partial_fit.h"

namespace landfall {

// The share of the sound in partials that are multiples neither of two nor, apart from that, of three: the smaller one.
double shareBetweenMultiples(const PartialFit::Result& fit);

// What the period was taken too long by: 1, or 2 or 3 where only every second or third partial sounds (a plucked string
// cannot lack all its odd partials: no place of the pick or the pickup is a node of every one), or where two strings in
// a ratio of small whole numbers share a long period (looked for if `pairsToo`), that of the one nearer to `expected`,
// else of the stronger one.
std::size_t emptyPeriods(const PartialFit::Result& fit, bool pairsToo, std::optional<Hertz> expected);

// Two strings whose fitted period is one they share, such as 5 : 6 of a minor third: only the multiples of `lower` and
// `upper` sound.
struct SharedPeriod {
    std::size_t lower = 0, upper = 0;
    double lowerPower = 0.0, upperPower = 0.0, power = 0.0;
};

// From a third (6 : 7) to a seventh (4 : 7). One string cannot lack its first two partials and all others that are no
// such multiples; it can lack the first and fifth (2 : 3), so that a fifth has to be told otherwise.
std::optional<SharedPeriod> sharedPeriod(const PartialFit::Result& fit);

}  // namespace landfall
