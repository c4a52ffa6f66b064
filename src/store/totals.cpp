#include "src/store/totals.h"

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

}  // namespace landfall
