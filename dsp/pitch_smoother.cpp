#include "dsp/pitch_smoother.h"

#include <algorithm>
#include <cmath>

namespace landfall {

namespace {

// White acceleration of this density, cents²/s³: a whole-tone bend in a quarter of a second passes with 1 to 4 cents of
// error while a steady note stays within 1 cent.
constexpr double accelerationDensity = 3e6;

}  // namespace

void PitchSmoother::start(Seconds time, Cents pitch, Cents sd, double speed, double speedSd) noexcept {
    started = true;
    now = time.value;
    pitchNow = pitch.value;
    speedNow = speed;
    varPitch = sd.value * sd.value;
    covariance = 0.0;
    varSpeed = speedSd * speedSd;
}

// Bar-Shalom, Li & Kirubarajan, Estimation with Applications to Tracking and Navigation, 2001, section 6.2.2.
void PitchSmoother::advance(Seconds time) noexcept {
    const double dt = time.value - now;
    if (!(dt > 0.0)) return;
    pitchNow += speedNow * dt;
    varPitch += dt * (2.0 * covariance + dt * varSpeed) + accelerationDensity * dt * dt * dt / 3.0;
    covariance += dt * varSpeed + accelerationDensity * dt * dt / 2.0;
    varSpeed += accelerationDensity * dt;
    now = time.value;
}

bool PitchSmoother::measure(Seconds time, Cents pitch, Cents sd) noexcept {
    advance(time);
    const double off = pitch.value - pitchNow;
    const double variance = varPitch + sd.value * sd.value;
    if (std::abs(off) > 20.0 + 4.0 * std::sqrt(variance)) return false;
    const double gainPitch = varPitch / variance, gainSpeed = covariance / variance;
    pitchNow += gainPitch * off;
    speedNow += gainSpeed * off;
    varSpeed -= gainSpeed * covariance;
    covariance *= 1.0 - gainPitch;
    varPitch *= 1.0 - gainPitch;
    return true;
}

PitchSmoother::State PitchSmoother::at(Seconds time) const noexcept {
    PitchSmoother ahead = *this;
    ahead.speedNow = std::clamp(speedNow, -fastestBend, fastestBend);
    ahead.advance(time);
    const double back = std::min(0.0, time.value - now);
    return {Cents(ahead.pitchNow + back * ahead.speedNow), ahead.speedNow, Cents(std::sqrt(ahead.varPitch))};
}

}  // namespace landfall
