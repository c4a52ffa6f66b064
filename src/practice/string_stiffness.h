// Learns the inharmonicity B of each string from clear notes at known places, and says which B a note there will have.
// Analysis thread.
#pragma once

#include <deque>
#include <optional>
#include <vector>

#include "dsp/pitch_frame.h"
#include "src/practice/landing.h"

namespace landfall {

// B = pi³ E d⁴ / (64 T L²) (Fletcher & Rossing, The Physics of Musical Instruments, 2nd ed., section 2.18): a fret
// shortens L, so that B of one open string gives B at every fret; a bend raises T with the square of the pitch.
class StringStiffness {
public:
    struct Config {
        // B of each open string without a capo, string 1 first; 0: not known. May be shorter
        std::vector<double> known{};
        int capo = 0;
        Hertz a4 = standardA4;
    };

    explicit StringStiffness(Config given);

    void settled(const PitchFrame& frame);
    // The note that the try began with was heard; where its place is known and it was clear and not bent, it counts.
    void tryEnded(const Landing& landing);

    std::optional<double> at(NeckPlace place) const;
    // As Config::known, with what was learned since.
    std::vector<double> openStrings() const;

private:
    struct Heard {
        double time = 0.0;  // seconds
        double hertz = 0.0;
        double stiffness = 0.0;
    };
    double known(std::size_t string) const;

    Config config;
    std::deque<Heard> frames;                 // the sure ones of the last seconds
    std::vector<std::deque<double>> learned;  // of the last notes on each string, carried to the open string
};

}  // namespace landfall
