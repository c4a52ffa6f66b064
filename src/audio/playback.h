// Plays a recorded sound once: at any rate, its loudest sample at a given level, with a soft start and a soft end. One
// thread.
#pragma once

#include <memory>
#include <span>
#include <vector>

#include "dsp/units.h"

namespace landfall {

class Playback {
public:
    explicit Playback(double sampleRate) : rate(sampleRate) {}

    // A sound that still plays ends at once. `recordedRate` in Hz; another rate than the output's is interpolated
    // linearly, which is for listening, not for measuring.
    void play(std::shared_ptr<const std::vector<float>> samples, double recordedRate, Decibels loudest) noexcept;
    void stop() noexcept { sound.reset(); }
    bool playing() const noexcept { return sound != nullptr; }
    // Adds to the block.
    void add(std::span<float> block) noexcept;

private:
    double rate;
    std::shared_ptr<const std::vector<float>> sound;
    double step = 1.0;  // recorded samples an output sample
    double at = 0.0;    // recorded samples
    double gain = 0.0;
};

}  // namespace landfall
