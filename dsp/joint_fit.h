// Least-squares fit of several stiff strings that sound together to a short stretch of samples: the joint case of
// PartialFit. It allocates. Analysis thread.
#pragma once

#include <array>
#include <cstddef>
#include <memory>
#include <span>

#include "dsp/units.h"

namespace landfall {

// The model is PartialFit's for each string, added up; all amplitudes are projected out together (Golub & Pereyra 1973,
// Kaufman 1975), so that partials that two strings share are parted by the others.
class JointFit {
public:
    static constexpr std::size_t maxStrings = 6;

    struct Config {
        double sampleRate = 16000.0;
        std::size_t longestInput = 4000;  // samples
    };

    // One string, before the fit and after it.
    struct Tone {
        Hertz pitch;                 // of the first partial, at the moment asked for
        double slope = 0.0;          // cents per second
        double inharmonicity = 0.0;  // B
        Cents pitchSd{0.0};          // known before to so much; 0: not at all
    };

    struct Request {
        std::span<const Tone> start;  // one to maxStrings
        double moment = 0.0;          // index in samples, may lie between two
        std::size_t partials = 8;     // of each string at most
        int steps = 3;
        double slopeSd = 0.0;          // cents per second; 0 holds them
        double inharmonicitySd = 0.0;  // share of B; 0 holds it
        Cents widest{35.0};            // a step moves no pitch further
    };

    struct String {
        Tone tone;
        Cents sd;            // of the pitch
        double power = 0.0;  // mean square of its partials
        double first = 0.0;  // share of that in the first partial
        // Share of all power that only this string explains, its pitch and the others' being what they are.
        double own = 0.0;
        double clear = 0.0;  // share of all power in those of its partials that lie where no other string's do
        // Share of a plucked string's partials (power as 1 / number squared) that lie so. Near 0,
        // as an octave up or a twelfth, no sound of this length tells whether the string sounds.
        double unshared = 1.0;
    };
    struct Result {
        bool usable = false;
        std::array<String, maxStrings> strings{};
        double residual = 1.0;  // share of the power that is left
        double power = 0.0;     // mean square of the samples
    };

    explicit JointFit(const Config& config);
    ~JointFit();

    Result fit(std::span<const float> samples, const Request& request) noexcept;
    // The share of all power that string `j` of the last usable fit alone explains where each partial of the first string
    // may swell and shift by itself, as a polynomial in time of so many powers (1: it stands). What came before is
    // forgotten: leftover and foretell ask for another fit.
    double ownBesideSwelling(std::size_t j, std::size_t powers) noexcept;
    // What the last usable fit left unexplained, a value a sample. Valid until the next fit.
    std::span<const float> leftover() const noexcept;
    // What the last usable fit foretells from `first` on, in samples from the first one fitted; may lie before it.
    void foretell(double first, std::span<float> samples) noexcept;

private:
    struct State;
    std::unique_ptr<State> state;
};

}  // namespace landfall
