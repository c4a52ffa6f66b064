#include "src/app/hold_sound.h"

#include <utility>

#include "dsp/statistics.h"
#include "src/practice/landing_judge.h"

namespace landfall {

bool HoldSound::holds(Seconds at) const {
    constexpr JudgeConfig judge;
    if (!arrival) return false;
    const double since = (at - *arrival).value;
    return since >= judge.landingFrom && since <= judge.landingTo;
}

void HoldSound::add(Seconds at, Decibels level, double brightness) {
    if (!holds(at)) return;
    levels.push_back(level.value);
    if (brightness > 0.0) brightnesses.push_back(brightness);
}

void HoldSound::keepIn(LoggedTry& row) {
    if (!levels.empty()) row.level = Decibels(median(std::move(levels)));
    if (!brightnesses.empty()) row.brightness = median(std::move(brightnesses));
}

}  // namespace landfall
