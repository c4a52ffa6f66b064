// How a kind of move went from day to day, the day's first tries apart from the rest, and whether it may be said to have
// changed. Plain functions, any thread.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "src/review/reviewed_try.h"
#include "src/review/robust.h"

namespace landfall {

struct DayMean {
    int day = 0;
    CalendarTime at;        // of the day's first try
    Estimate cold;          // first stops of the day's first tries of this kind, cents: + over
    Estimate warm;          // of the others
    double coldMiss = 0.0;  // typical distance of the first tries from the target, where there are any
};

enum class Change { tooEarly, none, nearer, wider };

struct Progress {
    MoveKind kind;
    std::vector<DayMean> days;            // on which it was measured
    int firstTries = 0, firstInside = 0;  // cold tries of all days, and those inside the aim
    Cents aim{25.0};                      // of the latest
    Change change = Change::tooEarly;
    // Of the days compared, half of them early, half late: how far first tries landed from the target.
    int comparedDays = 0;
    double before = 0.0, after = 0.0;
    double doubt = 0.0;  // half of the 95 % interval of the difference
};

// The first so many of a kind each day are cold ones.
constexpr int firstOfDay = 5;

// One for each kind that was played and measured. What is compared are the days of the last 80 of practice (counted in
// eighties from the first; until ten days of the next have come, the eighty before them). It is looked at four times at
// the most, after the 10th, 20th, 40th and 80th of these days with first tries, however often this is asked: who looks each week would sooner or later find
// a change where there is none. Each time the late half of these days stands against the early half, day by day, and
// must differ by Pocock's limit for four looks (p < .0182: S. J. Pocock, Biometrika 64, 1977), shared among the kinds.
std::vector<Progress> progressOf(std::span<const ReviewedTry> tries);

// "11 of 30 first tries inside ±25. Too early for a trend."
std::string wordsOf(const Progress& progress);

}  // namespace landfall
