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
    // Moves landed or died, or a quarter of them: less was not the line. Of one with fewer moves each that was heard
    // counts, however it went ...
    std::size_t fewest = 4;
    int heard = 20;  // ... in so many frames, a tenth of a second: more than a noise
};

struct MoveReached {
    std::size_t move = 0;  // of the line, from 0
};
// Of a move that was left for a later one; once more where what came later shows it otherwise.
struct MoveTold {
    LineMark mark;
    LineTrace trace;
};
struct PassOver {
    int pass = 0;                   // from 1
    LineMarks marks;                // what never came is missed
    std::vector<LineTrace> traces;  // one for each move
};
using LineEvent = std::variant<MoveReached, MoveTold, PassOver>;

class LinePractice {
public:
    // `sampleRate` 16 to 192 kHz, `a4` 430 to 450 Hz. The line must outlive it.
    LinePractice(const Line& line, double sampleRate, Hertz a4, const LinePracticeConfig& given = {});

    // Any block size; the cut changes nothing. The events are valid until the next call.
    std::span<const LineEvent> process(std::span<const float> samples);
    // The input is over: so is the pass in progress.
    std::span<const LineEvent> finish();

    // What was to be known of the input in the last call of process: InputLevel, PickStroke, LivePitch, EffectHeard.
    std::span<const ListenerEvent> signal() const { return heardSignal; }

    std::size_t heldFrames() const { return listener.follower().frames().size(); }  // of the pass in progress

private:
    void look();
    bool isOver() const;
    Seconds patience() const;
    std::optional<std::size_t> nextPass();
    void tell();
    void endPass(std::optional<std::size_t> next = {});  // what comes from that frame on belongs to the next
    bool isLine(const LineMarks& marks, std::span<const LineTrace> played) const;

    const Line& line;
    LinePracticeConfig config;
    LineListener listener;
    std::uint64_t heard = 0;  // samples
    std::size_t position = 0;
    bool reachedLast = false;
    std::optional<std::size_t> leftLast;  // frame
    int passes = 0;
    std::vector<std::optional<Outcome>> told;  // of each move, in this pass
    std::vector<LineEvent> events;
    std::vector<ListenerEvent> heardSignal;
};

}  // namespace landfall
