// Tells a voice from a string by how its partials grow: nothing feeds a string between two strokes, a vowel is fed all the time. Analysis thread.
#pragma once

#include <array>
#include <cstddef>
#include <span>

namespace landfall {

// A plucked string's partials only lose energy until it is struck again (Fletcher & Rossing, The Physics of Musical Instruments, 2nd ed.,
// section 2.9); in speech they rise and fall with each syllable and each formant that passes them. Gain, beats, bends and a slide's frets
// lift single partials or all of them for a moment, so one rise is nothing: rises are counted, falls are counted against them.
class VoiceGuard {
public:
    struct Partials {
        std::size_t note = 0;    // any number that changes with each stroke
        double seconds = 0.0;    // since the stroke
        std::span<const float> power;  // mean squares, the first partial first
    };

    // Once a hop of 5 ms, with what a fit found or without anything.
    void hear(const Partials& partials) noexcept;
    void hearNothing() noexcept;
    bool isVoice() const { return voice; }
    void reset() noexcept { *this = VoiceGuard(); }

private:
    static constexpr std::size_t compared = 8;  // partials
    static constexpr std::size_t hopsApart = 6;
    struct Kept {
        bool heard = false;
        std::size_t note = 0;
        double seconds = 0.0;
        std::array<double, compared> decibels{};
    };

    void keep(const Kept& kept) noexcept;
    void count(double rise, double fall) noexcept;

    std::array<Kept, hopsApart> past{};  // a ring
    std::size_t at = 0;
    int rising = 0;         // hops in a row
    double evidence = 0.0;  // 0: a string, 1: a voice
    bool voice = false;
};

}  // namespace landfall
