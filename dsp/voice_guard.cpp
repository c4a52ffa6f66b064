#include "dsp/voice_guard.h"

#include <algorithm>
#include <cmath>

namespace landfall {

namespace {

// A partial softer than this is the room's or the cable's noise.
constexpr double silentDecibels = -95.0;
// Before that the pick's own noise and the attack are still in the window.
constexpr double attackSeconds = 0.03;
// Over 30 ms, weighed by amplitude. Strings with gain, beats or in a room stay below 1.5 dB 99 times of 100; a quarter of a voice's
// moments rise by more than 3 dB (measured on formant and diphone voices, sampled, recorded and synthetic guitars).
constexpr double riseOfVoice = 2.5;
constexpr double riseOfString = 0.7;
// 100 dB a second: a damped string, or the end of a syllable, tells nothing.
constexpr double fallOfString = 3.0;
// A stroke too soft to be heard as one is a single rise that lasts as long as the fit's window; syllables keep rising and falling.
constexpr int longestRise = 4;
// Rises of two syllables make a voice; a steady 0.2 s make a string again.
constexpr double voiceStep = 0.1;
constexpr double stringStep = 0.02;
constexpr double voiceFrom = 0.65;
constexpr double stringFrom = 0.2;
// A pause says nothing: what was heard before it is forgotten within seconds.
constexpr double kept = 0.995;

}  // namespace

void VoiceGuard::hear(const Partials& partials) noexcept {
    Kept now{true, partials.note, partials.seconds, {}};
    for (std::size_t k = 0; k < compared; ++k)
        now.decibels[k] = k < partials.power.size() ? std::max(silentDecibels, 10.0 * std::log10(static_cast<double>(partials.power[k]) + 1e-14)) : silentDecibels;
    const Kept& before = past[at];
    if (before.heard && before.note == now.note && before.seconds > attackSeconds && now.seconds > before.seconds) {
        double rise = 0.0, fall = 0.0, weights = 0.0;
        for (std::size_t k = 0; k < compared; ++k) {
            const double here = now.decibels[k], there = before.decibels[k];
            if (here <= silentDecibels || there <= silentDecibels) continue;
            const double weight = std::pow(10.0, std::max(here, there) / 20.0);
            weights += weight;
            rise += weight * std::max(0.0, here - there);
            fall += weight * std::max(0.0, there - here);
        }
        if (weights > 0.0) count(rise / weights, fall / weights);
    } else {
        rising = 0;
    }
    keep(now);
}

void VoiceGuard::hearNothing() noexcept {
    rising = 0;
    evidence *= kept;
    voice = voice && evidence > stringFrom;
    keep({});
}

void VoiceGuard::count(double rise, double fall) noexcept {
    rising = rise > riseOfVoice ? rising + 1 : 0;
    if (rising > 0 && rising <= longestRise)
        evidence = std::min(1.0, evidence + voiceStep);
    else if (rise < riseOfString && fall < fallOfString)
        evidence = std::max(0.0, evidence - stringStep);
    voice = evidence >= voiceFrom || (voice && evidence > stringFrom);
}

void VoiceGuard::keep(const Kept& newest) noexcept {
    past[at] = newest;
    at = (at + 1) % past.size();
}

}  // namespace landfall
