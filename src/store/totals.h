// What a handful of tries add up to: typical miss, share inside the aim, lost. Plain functions, any thread.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "src/store/logged_try.h"

namespace landfall {

// Struck tries are left out of everything; guided ones (played with the live trace) of everything below `guided`, where there are others.
struct Totals {
    int tries = 0;
    int guided = 0;
    int counted = 0;                    // what the figures below are of
    std::optional<Cents> medianMiss;    // of the first stops, without their sign; no slides but those marked against the own guitar,
    std::optional<Cents> medianError;   // because their cents are the guitar's setup; with the sign: + over, - under
    int inside = 0;                     // first stop within the try's own aim; a slide: on the right fret
    int lost = 0;                       // died, two strings rang, not measurable: no landing

    std::optional<double> shareInside() const {
        return counted > 0 ? std::optional(static_cast<double>(inside) / counted) : std::nullopt;
    }
};

bool isInside(const LoggedTry& oneTry);
bool isLost(const LoggedTry& oneTry);

Totals totalsOf(std::span<const LoggedTry> tries);

// In the order of the Gesture enumerators, only those that were played.
std::vector<std::pair<Gesture, Totals>> totalsByGesture(std::span<const LoggedTry> tries);

// Whether a trend may be spoken of: at least twenty counted tries on at least ten days. Fewer say more about the day than about the player
// (our own choice, on the careful side; no published figure).
bool enoughForTrend(std::span<const LoggedTry> tries);

}  // namespace landfall
