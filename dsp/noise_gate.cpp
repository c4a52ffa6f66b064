#include "dsp/noise_gate.h"

#include <algorithm>
#include <cmath>

namespace landfall {

namespace {

// The floor follows noise down at once and up with a time constant of a quarter of a second; the first 20 hops are
// averaged.
constexpr double riseSeconds = 0.25;
constexpr int firstHops = 20;
constexpr double fallShare = 0.1;       // of what a hop is under it, at least
constexpr double lowestFloor = -100.0;  // dBFS, as far as opening and closing go
constexpr double quietestClose = 3.0;   // dB under the quietest note an open gate closes
// dBFS: what is louder than any hum or hiss that one would play with may be a note in whose middle the input begins. It
// is no floor at once.
constexpr double loudestFirst = -45.0;

}  // namespace

NoiseGate::NoiseGate(const Config& wanted) : config(wanted) {}

bool NoiseGate::update(Decibels level, bool learn) noexcept {
    if (learn) {
        if (learned < firstHops) ++learned;
        const double slow = std::min(1.0, config.hop.value / riseSeconds);
        const double share = level.value > loudestFirst ? slow : std::max(1.0 / learned, slow);
        if (learned == 1) floorLevel = std::min(level.value, loudestFirst);
        else floorLevel += (level.value > floorLevel ? share : std::max(share, fallShare)) * (level.value - floorLevel);
    }
    const double over = level.value - std::max(floorLevel, lowestFloor);
    if (open) open = level.value > config.quietest.value - quietestClose && over > config.closeBelow.value;
    else open = level.value > config.quietest.value && over > config.openAbove.value;
    return open;
}

void NoiseGate::reset() noexcept {
    floorLevel = -140.0;
    learned = 0;
    open = false;
}

}  // namespace landfall
