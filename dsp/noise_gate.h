// Decides whether there is anything to hear: separate levels to open and to close above a learned noise floor. Analysis
// thread.
#pragma once

#include "dsp/units.h"

namespace landfall {

class NoiseGate {
public:
    struct Config {
        Seconds hop{0.005};
        Decibels quietest{-78.0};  // nothing below this level is a note
        Decibels openAbove{6.0};   // over the floor
        Decibels closeBelow{3.0};
    };

    explicit NoiseGate(const Config& config);

    // Once a hop. `learn`: what sounds now is no note, so the floor may follow it.
    bool update(Decibels level, bool learn) noexcept;
    Decibels floor() const { return Decibels(floorLevel); }
    void reset() noexcept;

private:
    Config config;
    double floorLevel = -140.0;
    int learned = 0;  // hops
    bool open = false;
};

}  // namespace landfall
