// How unsure a pitch is because something between string and computer moves it: read from partials whose levels go ways
// of their own. Analysis thread.
#pragma once

#include <array>
#include <cstddef>
#include <span>

#include "dsp/units.h"

namespace landfall {

// A copy that wanders (chorus, phaser, a room while the pitch moves) or a resonance that sweeps multiplies each partial
// by a complex factor that moves. The rates of its amplitude and of its phase are the real and imaginary part of one
// logarithm's derivative: over a while they are alike in size. So a partial whose level goes its own way by r nepers a
// second is off by about r radians a second. What all partials share (decay, tremolo, compressor) shifts no pitch.
class PartialUnrest {
public:
    struct Partials {
        std::size_t note = 0;          // any number that changes with each stroke
        double seconds = 0.0;          // since the stroke
        bool moving = false;           // a fret change moves the levels too: such frames tell nothing
        Hertz pitch;                   // of the first partial
        std::span<const float> power;  // mean squares, the first partial first
    };

    // Once a hop of 5 ms, where a fit found something. The standard deviation of the pitch that unrest of the last
    // tenths of a second makes.
    Cents hear(const Partials& partials) noexcept;
    void hearNothing() noexcept { keep({}); }
    void reset() noexcept { *this = PartialUnrest(); }

private:
    static constexpr std::size_t compared = 10;  // partials
    static constexpr std::size_t hopsApart = 4;
    struct Kept {
        bool heard = false;
        std::size_t note = 0;
        double seconds = 0.0;
        std::array<double, compared> level{};  // nepers
    };

    void keep(const Kept& kept) noexcept;

    std::array<Kept, hopsApart> past{};  // a ring
    std::size_t at = 0;
    double square = 0.0;  // cents²
};

}  // namespace landfall
