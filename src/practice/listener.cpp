#include "src/practice/listener.h"

#include <array>
#include <deque>

#include "dsp/quantise.h"
#include "src/practice/effect_ear.h"
#include "src/practice/level_meter.h"
#include "src/practice/move_follower.h"
#include "src/practice/string_stiffness.h"

namespace landfall {

namespace {

constexpr Seconds remembered{35.0};
// s from what is asked of the output until the last of it has come back by the input and died away in a living room
constexpr double soundLags = 0.5;

FollowerConfig followerConfig(const ListenerConfig& given) {
    FollowerConfig config;
    config.notes.a4 = given.a4;
    config.target = given.target;
    config.ownFrets = given.ownFrets;
    config.find.judge.aim = given.aim.value;
    config.sampleRate = given.sampleRate;
    config.chords.judge.judge.aim = given.aim.value;
    config.chords.judge.a4 = given.a4;
    config.chords.judge.stringNames = given.stringNames;
    return config;
}

}  // namespace

struct Listener::State {
    explicit State(const ListenerConfig& given)
        : config(given), level(given.sampleRate), tracker({.sampleRate = given.sampleRate}),
          follower(followerConfig(given), events),
          strings({.known = given.stiffness, .capo = given.capo, .a4 = given.a4}) {}

    void hear(float sample);
    void track(std::span<const float> samples);
    void learnFrom(std::size_t event);
    void expect();

    ListenerConfig config;
    std::vector<ListenerEvent> events, waiting;
    LevelMeter level;
    PitchTracker tracker;
    MoveFollower follower;
    StringStiffness strings;
    EffectEar effects;
    std::optional<NeckPlace> place;  // of the first move asked
    std::deque<HeardPitch> past;     // what was settled lately
    std::array<float, analysisBlock> block{};
    std::size_t filled = 0;
    std::uint64_t heard = 0;  // samples
};

void Listener::State::hear(float sample) {
    ++heard;
    block[filled++] = quantise(sample);
    if (const auto now = level.hear(block[filled - 1])) events.emplace_back(*now);
    if (filled < block.size()) return;
    track(block);
    filled = 0;
}

void Listener::State::track(std::span<const float> samples) {
    const auto output = tracker.process(samples);
    const std::size_t before = events.size();
    follower.sound(samples);
    for (const Onset& onset : output.onsets) {
        follower.onset(onset);
        if (!follower.asksSeveral()) effects.stroke(onset.time);
    }
    for (const Growth& sound : output.growths) follower.grew(sound);
    for (const PitchFrame& frame : output.settled) {
        strings.settled(frame);
        follower.settled(frame);
        past.push_back({frame.centre, frame.pitch, frame.level, frame.brightness});
        while (past.front().at < frame.centre - remembered) past.pop_front();
        if (follower.asksSeveral()) continue;  // one string rings into the other as an echo does
        if (const auto effect = effects.settled(frame)) events.emplace_back(EffectHeard{frame.available, *effect});
    }
    for (const PitchFrame& frame : output.provisional) {
        events.emplace_back(
            LivePitch{frame, frame.pitch ? follower.fromTarget(*frame.pitch) : std::nullopt, follower.asked()});
        follower.provisional(frame);
    }
    learnFrom(before);
}

// Of the tries that ended in the events from this one on.
void Listener::State::learnFrom(std::size_t event) {
    for (; event < events.size(); ++event)
        if (const auto* ended = std::get_if<TryEnded>(&events[event]); ended && !follower.asksSeveral()) {
            strings.tryEnded(ended->landing);
            expect();
        }
}

// What is known of the string that is to be struck next.
void Listener::State::expect() {
    tracker.hint({.inharmonicity = place ? strings.at(*place) : std::nullopt, .expected = {}});
}

Listener::Listener(const ListenerConfig& config) : state(std::make_unique<State>(config)) {}
Listener::~Listener() = default;

void Listener::setMoves(std::vector<Move> moves, MoveOrder order) {
    state->place = moves.empty() ? std::nullopt : moves.front().place;
    state->expect();
    state->follower.setMoves(std::move(moves), order);
    state->tracker.hearStrokesOnly(state->follower.asksSeveral() && order == MoveOrder::everyTry);
}

std::span<const ListenerEvent> Listener::process(std::span<const float> samples) {
    state->events = std::move(state->waiting);
    state->waiting.clear();
    for (const float sample : samples) state->hear(sample);
    return state->events;
}

std::span<const ListenerEvent> Listener::finish() {
    state->events = std::move(state->waiting);
    state->waiting.clear();
    // Silence brings out what the tracker still holds back.
    const auto lag = static_cast<std::size_t>(state->tracker.latency().value * state->config.sampleRate);
    for (std::size_t i = 0; i < lag + analysisBlock; ++i) state->hear(0.0f);
    const std::size_t before = state->events.size();
    state->follower.finish();
    state->learnFrom(before);
    return state->events;
}

void Listener::ownSound(Seconds length) {
    state->follower.ownSoundUntil(
        Seconds(static_cast<double>(state->heard) / state->config.sampleRate + length.value + soundLags));
}

std::optional<int> Listener::discardLast() {
    state->events.clear();
    const auto struck = state->follower.discardLast();
    state->waiting.insert(state->waiting.end(), state->events.begin(), state->events.end());
    state->events.clear();
    return struck;
}

std::vector<double> Listener::stiffness() const { return state->strings.openStrings(); }

const OwnFrets& Listener::ownFrets() const { return state->follower.ownFrets(); }

std::vector<HeardPitch> Listener::heard(Seconds from, Seconds to) const {
    std::vector<HeardPitch> found;
    for (const HeardPitch& each : state->past)
        if (from <= each.at && each.at <= to) found.push_back(each);
    return found;
}

std::optional<Move> Listener::lackingTarget() const { return state->follower.lackingTarget(); }

}  // namespace landfall
