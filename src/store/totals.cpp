#include "src/store/totals.h"

#include <algorithm>
#include <cmath>
#include <set>

namespace landfall {

namespace {

constexpr Cents rightFret{50.0};  // a slide whose fret is not known is right where the asked fret is the nearest

// The mean of the two in the middle where their number is even.
std::optional<Cents> median(std::vector<double> values) {
    if (values.empty()) return {};
    const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
    std::nth_element(values.begin(), middle, values.end());
    if (values.size() % 2 == 1) return Cents(*middle);
    return Cents((*middle + *std::max_element(values.begin(), middle)) / 2.0);
}

bool hasOwnCents(const Landing& landing) { return landing.move.gesture != Gesture::slide || landing.target == Target::ownGuitar; }

}  // namespace

bool isLost(const LoggedTry& oneTry) { return !oneTry.landing.landingError; }

bool isInside(const LoggedTry& oneTry) {
    const Landing& landing = oneTry.landing;
    if (isLost(oneTry) || landing.verdict == Verdict::wrongFret || landing.verdict == Verdict::otherInterval) return false;
    if (landing.move.gesture == Gesture::slide) {
        if (landing.landedFret && landing.move.targetFret) return *landing.landedFret == *landing.move.targetFret;
        return abs(*landing.landingError) <= rightFret;
    }
    return landing.firstStopError && abs(*landing.firstStopError) <= oneTry.aim;
}

Totals totalsOf(std::span<const LoggedTry> tries) {
    Totals totals;
    for (const LoggedTry& one : tries) {
        totals.tries += one.struck ? 0 : 1;
        totals.guided += !one.struck && one.guided ? 1 : 0;
    }
    std::vector<double> errors, misses;
    for (const LoggedTry& one : tries) {
        if (one.struck || (one.guided && totals.guided < totals.tries)) continue;
        ++totals.counted;
        totals.inside += isInside(one) ? 1 : 0;
        totals.lost += isLost(one) ? 1 : 0;
        if (!one.landing.firstStopError || !hasOwnCents(one.landing)) continue;
        errors.push_back(one.landing.firstStopError->value);
        misses.push_back(std::abs(errors.back()));
    }
    totals.medianError = median(std::move(errors));
    totals.medianMiss = median(std::move(misses));
    return totals;
}

std::vector<std::pair<Gesture, Totals>> totalsByGesture(std::span<const LoggedTry> tries) {
    std::vector<std::pair<Gesture, Totals>> found;
    for (const Gesture gesture : {Gesture::bend, Gesture::release, Gesture::preBend, Gesture::slide, Gesture::note, Gesture::vibrato}) {
        std::vector<LoggedTry> ofIt;
        std::copy_if(tries.begin(), tries.end(), std::back_inserter(ofIt), [&](const LoggedTry& one) { return one.landing.move.gesture == gesture; });
        if (const Totals totals = totalsOf(ofIt); totals.tries > 0) found.emplace_back(gesture, totals);
    }
    return found;
}

bool enoughForTrend(std::span<const LoggedTry> tries) {
    constexpr int leastTries = 20, leastDays = 10;
    int counted = 0;
    std::set<std::string> days;
    for (const LoggedTry& one : tries) {
        if (one.struck || one.guided) continue;
        ++counted;
        days.insert(localText(one.at).substr(0, 10));
    }
    return counted >= leastTries && static_cast<int>(days.size()) >= leastDays;
}

}  // namespace landfall
