// What stands between a string and the computer: pedals, an amplifier, a room, other sounds in it. Each from its
// published definition (named in effects.cpp), at 48 kHz, its knobs drawn from a seed. Plain functions.
#pragma once

#include <cstdint>
#include <functional>
#include <random>
#include <string>
#include <vector>

namespace landfall {

inline constexpr double effectRate = 48000.0;

// A sound and what a listener hears as its pitch, first partial, each millisecond (0: no string sounds).
struct PitchedSound {
    std::vector<float> samples;
    std::vector<double> hertz;
};

class Knobs {
public:
    explicit Knobs(std::uint32_t seed) : engine(seed) {}
    double between(double low, double high) {
        return low + (high - low) * static_cast<double>(engine()) / 4294967296.0;
    }

private:
    std::mt19937 engine;
};

struct Effect {
    std::string name;
    // changes the pitch only where the effect moves all that is heard
    std::function<void(PitchedSound&, Knobs&)> apply;
    int semitones = 0;  // that what is heard lies above what is fretted
};

// "dry" first.
const std::vector<Effect>& effects();

// The sound through the effect, nowhere above 0.9 of full scale.
PitchedSound through(const Effect& effect, PitchedSound sound, std::uint32_t seed);

}  // namespace landfall
