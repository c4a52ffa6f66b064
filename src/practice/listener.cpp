#include "src/practice/listener.h"

#include <algorithm>
#include <cmath>

namespace landfall {

struct Listener::State {
    ListenerConfig config;
    std::vector<ListenerEvent> events;
    PitchTracker tracker;
    explicit State(const ListenerConfig& given) : config(given), tracker({.sampleRate = given.sampleRate}) {}
};

Listener::Listener(const ListenerConfig& config) : state(std::make_unique<State>(config)) {}
Listener::~Listener() = default;
Listener::Listener(Listener&&) noexcept = default;
Listener& Listener::operator=(Listener&&) noexcept = default;

void Listener::setMoves(std::vector<Move>, MoveOrder) {}
void Listener::setTarget(Target target) { state->config.target = target; }

std::span<const ListenerEvent> Listener::process(std::span<const float> samples) {
    state->events.clear();
    while (!samples.empty()) {
        const auto block = samples.first(std::min(samples.size(), PitchTracker::maxBlockSamples));
        const auto output = state->tracker.process(block);
        for (const PitchFrame& frame : output.provisional) state->events.emplace_back(LivePitch{frame, std::nullopt});
        for (const Onset& onset : output.onsets) state->events.emplace_back(PickStroke{onset.available, onset});
        samples = samples.subspan(block.size());
    }
    return state->events;
}

std::span<const ListenerEvent> Listener::finish() {
    state->events.clear();
    return state->events;
}

bool Listener::discardLast() { return false; }
void Listener::reset() { state->tracker.reset(); }

}  // namespace landfall
