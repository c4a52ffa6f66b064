// Tells talk from playing in the pitch of the last seconds: a string's pitch stands, also between bends and slides, a
// voice's hardly ever does. One thread.
#pragma once

#include <cstddef>
#include <deque>
#include <optional>
#include <span>
#include <vector>

namespace landfall {

// Frames are 5 ms apart. Measured (doc/measured.md): in 3 s of a line, room and gain among them, at least 57 % of the
// frames with a pitch stand, 87 to 98 in the median; of twelve synthesised voices 48 % at the most, 0 to 24 in the
// median.
struct TalkEarConfig {
    std::size_t window = 600;   // judged
    std::size_t pitched = 100;  // a pitch in so many of them: else nothing can be told
    double stands = 0.4;        // of these at least: else talk
    int strokes = 5;            // syllables; fewer: a wide vibrato, or a slide
    std::size_t standsFor = 12;
    double standsWithin = 20.0;  // cents, in so many frames
    // What stands so long is played, whatever is about it: no voice of those twelve does, a monotonous one of eight
    // others. With it goes what lies so near, its stroke among it.
    std::size_t held = 50;
    std::size_t beside = 60;
    std::size_t lookEvery = 20;
};

class TalkEar {
public:
    explicit TalkEar(const TalkEarConfig& given = {}) : config(given) {}

    // One frame; its pitch in cents. Returns which frames have turned out to be talk since the last call, as how many
    // before this one they are, the oldest first: at most `window`, half a second late. Valid until the next call.
    std::span<const std::size_t> hear(std::optional<double> cents, bool struck);
    std::span<const std::size_t> finish();  // before the last one heard

private:
    struct Frame {
        std::optional<double> cents;
        bool struck = false, stands = false, played = false, told = false;
    };
    void stand();
    void keepHeld();
    bool isTalk() const;
    void tell(std::size_t undecided);

    TalkEarConfig config;
    std::deque<Frame> frames;
    std::size_t untilLook = 0;
    std::vector<std::size_t> talk;
};

}  // namespace landfall
