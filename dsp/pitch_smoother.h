// Kalman filter of pitch and its speed in cents: smooths late measurements and predicts the present. Analysis thread.
#pragma once

#include "dsp/units.h"

namespace landfall {

class PitchSmoother {
public:
    struct State {
        Cents pitch;
        double speed = 0.0;  // cents per second
        Cents sd;
    };

    // No bend is faster; a jump to another fret is, but it ends as suddenly, so that going on with its speed would
    // overshoot.
    static constexpr double fastestBend = 2200.0;  // cents per second: a whole tone in 0.14 s at its steepest

    bool running() const { return started; }
    void start(Seconds time, Cents pitch, Cents sd, double speed, double speedSd) noexcept;
    // A measurement of the pitch at `time`, not before the last one's. True when it was taken; false when it is so far
    // off that it cannot belong to the same motion: the caller decides then.
    bool measure(Seconds time, Cents pitch, Cents sd) noexcept;
    State at(Seconds time) const noexcept;
    void stop() noexcept { started = false; }

private:
    void advance(Seconds time) noexcept;

    bool started = false;
    double now = 0.0, pitchNow = 0.0, speedNow = 0.0;
    double varPitch = 0.0, covariance = 0.0, varSpeed = 0.0;
};

}  // namespace landfall
