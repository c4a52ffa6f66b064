#include "src/store/totals.h"

#include <set>
#include <string>

namespace landfall {

Tally tallyOf(std::span<const LoggedTry> tries) {
    Tally tally;
    for (const LoggedTry& one : tries)
        if (!one.struck) tally.add(one.landing, one.aim, one.guided);
    return tally;
}

std::vector<DrillMark> drillMarksOf(std::span<const LoggedTry> tries) {
    std::vector<DrillMark> marks;
    NeckPlace place{0, 0};
    for (const LoggedTry& one : tries) {
        if (one.landing.moveNumber <= 1) place = one.landing.move.place.value_or(NeckPlace{0, 0});
        marks.push_back({one.landing, one.guided, one.guess, place});
    }
    return marks;
}

bool enoughForTrend(std::span<const LoggedTry> tries, Gesture gesture) {
    constexpr int leastTries = 20, leastDays = 10;
    int counted = 0;
    std::set<std::string> days;
    for (const LoggedTry& one : tries) {
        if (one.struck || one.guided || one.landing.move.gesture != gesture || !isCounted(one.landing)) continue;
        ++counted;
        days.insert(localText(one.at).substr(0, 10));
    }
    return counted >= leastTries && static_cast<int>(days.size()) >= leastDays;
}

}  // namespace landfall
