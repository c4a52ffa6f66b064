// A line practised pass after pass: sound in; which move is being played, and each pass's marks, out. Times count from
// the first sample of the sitting. One thread, the analysis thread.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <variant>
#include <vector>

#include "src/practice/line_listener.h"

namespace landfall {

struct LinePracticeConfig {
    Seconds afterLast{0.7};  // a last note that is played again within it was a correction
    // LineFollower::lead from which on it is the last note: 0.4 was seen of one that was none, 3.8 and more of true ones
    // (the battery's takes).
    double sure = 2.0;
    Seconds givenUp{2.5};      // nothing sounds: longer than a player looks for the next note ...
    double restAtMost = 2.0;   // ... or so many times as long as the line's own next note takes to come
    double usualTempo = 90.0;  // quarters a minute, of a line without one
    Seconds stays{0.4};        // so long at the beginning again, and it is the next pass
    Seconds longest{300.0};    // bounds the memory of what never pauses: eight bars at 20 quarters a minute last 96 s
    std::size_t fewest = 4;    // moves landed, or a quarter of them: less was not the line
};

struct MoveReached {
    std::size_t move = 0;  // of the line, from 0
};
struct PassOver {
    int pass = 0;     // from 1
    LineMarks marks;  // what never came is missed
};
using LineEvent = std::variant<MoveReached, PassOver>;

class LinePractice {
public:
    // `sampleRate` 16 to 192 kHz, `a4` 430 to 450 Hz. The line must outlive it.
    LinePractice(const Line& line, double sampleRate, Hertz a4, const LinePracticeConfig& given = {});

    // Any block size; the cut changes nothing. The events are valid until the next call.
    std::span<const LineEvent> process(std::span<const float> samples);
    // The input is over: so is the pass in progress.
    std::span<const LineEvent> finish();

    std::size_t heldFrames() const { return listener.follower().frames().size(); }  // of the pass in progress

private:
    void look();
    bool isOver() const;
    Seconds patience() const;
    std::optional<std::size_t> nextPass();
    void endPass(LineMarks marks, std::size_t frame);  // what comes from there on belongs to the next

    const Line& line;
    LinePracticeConfig config;
    LineListener listener;
    std::uint64_t heard = 0;  // samples
    std::size_t position = 0;
    bool reachedLast = false;
    std::optional<std::size_t> leftLast;  // frame
    int passes = 0;
    std::vector<LineEvent> events;
};

}  // namespace landfall
