// Finds what a room or a reverberation goes on sounding of a pitch that the string has left. Analysis thread.
#pragma once

#include <array>
#include <cstddef>
#include <span>
#include <vector>

#include "dsp/partial_fit.h"
#include "dsp/units.h"

namespace landfall {

// What stands still and answers (a room, a reverberation, a delay) answers a steady tone with the tone's own
// frequencies. When the string has moved on, it goes on with these while it decays: lines a hertz or so wide, at places
// that are known from the note that was held. Where such lines stand out, at a pitch that was left, they are the
// room's; and as no room grows louder by itself, lines that do are the string's, which has come back.
class RoomTail {
public:
    struct Config {
        double sampleRate = 16000.0;
    };
    // Where the string's pitch is now, and was a window ago.
    struct Place {
        Hertz now, before;
        double inharmonicity = 0.0;
    };

    explicit RoomTail(const Config& config);

    // A settled fit about the sample `centre`, one a hop; one that is not usable: no pitch.
    void hear(std::size_t centre, const PartialFit::Result& fit) noexcept;
    // A pick stroke: what sounds on from before it may be another string.
    void struck() noexcept;
    std::size_t windowSamples() const noexcept { return window.size(); }
    // How many samples of a tail sound at the end of `heard`, which is the last windowSamples() up to the sample `end`:
    // none, those of the newest hop, or all where the tail has just been proved. `place`: null where there is no pitch.
    std::size_t find(std::span<const float> heard, std::size_t end, const Place* place,
                     std::size_t hopSamples) noexcept;
    // As many samples as find() said, the newest at the end. Valid until the next find().
    std::span<const float> tail() const noexcept { return sounds; }
    // Whether a pitch is the one that sounds on.
    bool isAt(Hertz pitch) const noexcept;
    // Whether it is, and every second of its lines is the string's: it has gone to the octave above.
    bool isOctaveBelow(Hertz pitch) const noexcept { return octaveUp && isAt(pitch); }
    void reset() noexcept;

private:
    static constexpr std::size_t mostLines = 10;

    struct HeldTone {
        double cents = 0.0, inharmonicity = 0.0;
        std::array<double, mostLines> power{};  // of each partial, mean square
        int frames = 0;
        std::size_t to = 0;  // sample
    };
    struct Line {
        std::size_t number = 0;  // of its partial
        double hertz = 0.0, cosine = 0.0, sine = 0.0, power = 0.0;
        double share = 0.0;  // of the power that its partial had in the note
    };
    // The lines that no partial of the string hides, and what they are held against.
    struct Lines {
        std::array<Line, mostLines> line{};
        std::size_t count = 0;
        double standing = 0.0;  // power in them
        double all = 0.0;       // of the sound
        double share = 0.0;     // the median of the lines'
    };
    struct Proof {
        int hops = 0, doubts = 0, backs = 0;
        double share = 0.0, last = 0.0;  // over the hops, of the last one
    };

    void listen(std::span<Line> lines) const noexcept;
    Lines findLines(const Place* place) const noexcept;
    bool goesOctaveUp(const Lines& lines) noexcept;
    double besideOf(const Lines& lines, bool weaker) const noexcept;
    bool prove(const Lines& lines, const Place* place, bool back) noexcept;
    void sound(const Lines& lines, std::size_t samples) noexcept;

    double rate;
    std::vector<float> window, weighed, sounds;
    HeldTone held, left;
    Proof proof;
    double evens = 0.0, odds = 0.0;  // power in these lines as a share of the note's, over the last hops
    bool octaveUp = false;           // at the last hop
};

}  // namespace landfall
