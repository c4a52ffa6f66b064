// One plucked stiff string by additive synthesis: the caller says the first partial's frequency, the sound follows it
// exactly. One thread.
#pragma once

#include <cstdint>
#include <span>
#include <vector>

#include "dsp/units.h"

namespace landfall {

// B of f_k = k f0 sqrt(1 + B k^2) for a string of solid steel (Fletcher & Rossing, The Physics of Musical Instruments,
// section 2.18): B = pi^3 E d^4 / (64 T L^2), lengths in metres, tension in newtons, E = 200 GPa.
double stiffness(double coreDiameter, double tension, double length);

// B of an open guitar string from its pitch alone: 648 mm long, 75 N, plain steel from G3 up, below it a wound string
// whose core is a fifth of the mass at E2 and grows with the pitch (cores of common sets: .018 .016 .014 inch).
double openStringStiffness(Hertz openPitch);

// How a note's pitch falls after a pick stroke: cents above the string's own pitch. A stretched string is tighter.
double attackGlide(Cents atStroke, Seconds sinceStroke);

class PluckedString {
public:
    struct Config {
        double sampleRate = 48000.0;
        Hertz openPitch{196.0};
        double openStiffness = 1.1e-4;
        int partials = 24;             // fewer where they would pass 0.45 of the sample rate
        double pickFromBridge = 0.16;  // as a share of the open length
        double pickupFromBridge = 0.23;
        Seconds decay{3.2};  // amplitude to 1/e, first partial of the open string
        Decibels secondPolarisation{-16.0};
        Cents polarisationDetune{0.25};
        std::uint32_t seed = 1;  // starting phases and pick noise
    };

    struct Stroke {
        double level = 0.2;       // the first partial's amplitude
        double brightness = 0.5;  // 0 soft thumb to 1 hard pick
        double pickNoise = 0.1;   // as a share of level
    };

    // Where the string is now: `pitch` is the first partial's frequency, `fret` where it is stopped (0 = open), the
    // bend is the rest.
    struct Position {
        Hertz pitch;
        double fret = 0.0;
        Cents bend;
    };

    explicit PluckedString(const Config& config);

    // What still sounds is damped in 6 ms, as a pick does that touches a string before it strikes.
    void strike(const Stroke& stroke, const Position& at);
    void damp(Seconds timeConstant);  // the hand lies down on the string
    void loseEnergy(double share);    // a finger crossing a fret

    // Adds sound to `out`; the position holds for the whole of it, so call with about a millisecond at a time.
    void add(std::span<float> out, const Position& at);
    void fade(std::span<float> out);  // the same, where it was last
    bool silent() const;

    // B where the string is stopped: length falls with the fret, tension rises with the bend.
    double stiffnessAt(const Position& at) const;

private:
    struct Partial {
        double phase = 0.0;  // of the first polarisation, in radians
        double turn = 0.0;   // how far the second one has run ahead, in radians
        double amplitude = 0.0;
        double amplitude2 = 0.0;
    };
    struct Vibration {
        std::vector<Partial> partials;
        double dampingRate = 0.0;  // 1/s, on top of the string's own
        double noise = 0.0, noiseFall = 0.0;
        Position last;
    };

    void add(Vibration& vibration, std::span<float> out, const Position& at);
    void addPartial(Partial& partial, double frequency, double detune, double rate, std::span<float> out) const;
    void addNoise(Vibration& vibration, std::span<float> out);
    double random();

    Config config;
    Vibration now, before;
    std::uint32_t noiseState;
    double noiseLow = 0.0;
};

}  // namespace landfall
