#include "src/practice/line_listener.h"

#include <array>
#include <vector>

#include "dsp/pitch_tracker.h"
#include "dsp/quantise.h"
#include "src/practice/effect_ear.h"
#include "src/practice/level_meter.h"
#include "src/practice/line_chords.h"

namespace landfall {

namespace {

constexpr double ofOnset = 1.0;    // nepers: a clear stroke
constexpr double soundKept = 1.0;  // s before a new pass: its first stroke may lie a little before its frame

LineFollowerConfig followerConfig(Hertz a4) {
    LineFollowerConfig config;
    config.a4 = a4;
    return config;
}

}  // namespace

struct LineListener::State {
    State(const Line& given, double rate, Hertz a4)
        : line(given), sampleRate(rate), level(rate), tracker({.sampleRate = rate, .connected = true}),
          effects({.connected = true}), follower(given, followerConfig(a4)) {
        if (LineChords::isIn(given)) chords = std::make_unique<LineChords>(given, rate, a4);
    }

    void hear(float sample) {
        block[filled++] = sample;
        if (chords) chords->hear(sample);
        if (const auto now = level.hear(sample)) signal.emplace_back(*now);
        if (filled < block.size()) return;
        filled = 0;
        const auto heard = tracker.process(block);
        for (const Onset& onset : heard.onsets) effects.stroke(onset.time);
        for (const Onset& onset : heard.onsets) signal.emplace_back(PickStroke{onset.available, onset});
        for (const PitchFrame& frame : heard.provisional) signal.emplace_back(LivePitch{frame, std::nullopt});
        for (const Break& stroke : heard.breaks) follower.hear(stroke);
        // Of several strings the level tells a stroke where the spectrum, which they fill, does not.
        if (chords)
            for (const Onset& onset : heard.onsets) follower.hear({onset.time, ofOnset});
        for (const PitchFrame& frame : heard.settled) {
            if (const auto effect = effects.settled(frame)) signal.emplace_back(EffectHeard{frame.available, *effect});
            follower.hear(frame);
        }
    }

    const Line& line;
    double sampleRate;
    LevelMeter level;
    std::vector<ListenerEvent> signal;
    PitchTracker tracker;
    EffectEar effects;
    LineFollower follower;
    std::unique_ptr<LineChords> chords;  // empty: none in the line
    std::array<float, analysisBlock> block{};
    std::size_t filled = 0;
};

LineListener::LineListener(const Line& line, double sampleRate, Hertz a4)
    : state(std::make_unique<State>(line, sampleRate, a4)) {}
LineListener::~LineListener() = default;
LineListener::LineListener(LineListener&&) noexcept = default;
LineListener& LineListener::operator=(LineListener&&) noexcept = default;

std::span<const ListenerEvent> LineListener::process(std::span<const float> samples) {
    state->signal.clear();
    for (const float sample : samples) state->hear(quantise(sample));
    return state->signal;
}

void LineListener::finish() {
    const auto lag = static_cast<std::size_t>(state->tracker.latency().value * state->sampleRate);
    for (std::size_t i = 0; i < lag + analysisBlock; ++i) state->hear(0.0f);
    state->follower.finish();
}

LineMarks LineListener::marks() const { return markLine(state->line, state->follower, state->chords.get()); }

LineMarks LineListener::marks(std::size_t frames) const {
    return markFrames(state->line, state->follower, frames, state->chords.get());
}

std::vector<LineTrace> LineListener::traces() const {
    return tracesOf(state->line, state->follower, state->follower.played(), state->chords.get());
}

std::vector<LineTrace> LineListener::traces(std::size_t frames) const {
    return tracesOf(state->line, state->follower, state->follower.playedSoFar(frames), state->chords.get());
}

const LineFollower& LineListener::follower() const { return state->follower; }

void LineListener::beginAgain(std::size_t frame) {
    const auto frames = state->follower.frames();
    if (state->chords && frame < frames.size()) state->chords->forget(frames[frame].time - soundKept);
    state->follower.beginAgain(frame);
}

}  // namespace landfall
