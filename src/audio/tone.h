// A reference tone: the target note, a drone or the test tone, with a soft start and a soft end. One thread.
#pragma once

#include <array>
#include <span>
#include <vector>

#include "dsp/units.h"

namespace landfall {

class Tone {
public:
    explicit Tone(double sampleRate) : rate(sampleRate) {}

    // A tone that still sounds fades out under the new one. `length` counts to the start of the soft end; infinity is a
    // drone.
    void play(Hertz frequency, Seconds length, Decibels level = Decibels(-26.0)) noexcept;
    void stop() noexcept;
    bool sounding() const noexcept;
    // Overwrites the block; silence where nothing sounds.
    void render(std::span<float> block) noexcept;

private:
    struct Voice {
        double step = 0.0;   // of the phase, cycles a sample
        double phase = 0.0;  // cycles
        double amplitude = 0.0;
        double remaining = 0.0;  // samples until the soft end
        double envelope = 0.0;   // 0 to 1, before its rounding
    };
    double rate;
    std::array<Voice, 2> voices{};
    std::size_t current = 0;
};

// Several notes at once, as loud together as one of them. `rate` in Hz.
std::vector<float> tonesTogether(std::span<const Hertz> notes, Seconds length, double rate);

// What was asked, then what was played, to be compared by ear; half a second each. `rate` in Hz.
std::vector<float> tonePair(Hertz asked, Hertz played, double rate);
constexpr Seconds tonePairLength{1.2};  // at most

}  // namespace landfall
