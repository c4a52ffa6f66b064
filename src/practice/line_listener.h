// Sound in, the marks of a line out. Times count from the first sample heard. One thread, the analysis thread.
#pragma once

#include <memory>
#include <span>

#include "dsp/units.h"
#include "src/music/line.h"
#include "src/practice/line_marks.h"
#include "src/practice/listener_event.h"

namespace landfall {

class LineListener {
public:
    // `sampleRate` 16 to 192 kHz, `a4` 430 to 450 Hz. The line must outlive it.
    LineListener(const Line& line, double sampleRate, Hertz a4);
    ~LineListener();
    LineListener(LineListener&&) noexcept;
    LineListener& operator=(LineListener&&) noexcept;

    // Any block size; the cut does not change the marks. Returns what is to be known of the input, whatever is played:
    // InputLevel, PickStroke, LivePitch and EffectHeard, valid until the next call.
    std::span<const ListenerEvent> process(std::span<const float> samples);
    // The input is over: what is in progress ends here.
    void finish();
    // Of the likeliest course up to what has been heard, where nothing more is to come; or of the course so far the
    // first frames.
    LineMarks marks() const;
    LineMarks marks(std::size_t frames) const;
    // One for each move, as it was played last.
    std::vector<LineTrace> traces() const;
    std::vector<LineTrace> traces(std::size_t frames) const;

    const LineFollower& follower() const;
    // Forgets what was heard before a frame, and looks for the line afresh from there on. Times go on.
    void beginAgain(std::size_t frame);

private:
    struct State;
    std::unique_ptr<State> state;
};

}  // namespace landfall
