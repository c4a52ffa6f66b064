#include "dsp/pitch_tracker.h"

namespace landfall {

struct PitchTracker::State {
    Config config;
};

PitchTracker::PitchTracker(const Config& config) : state(std::make_unique<State>(State{config})) {}
PitchTracker::~PitchTracker() = default;
PitchTracker::PitchTracker(PitchTracker&&) noexcept = default;
PitchTracker& PitchTracker::operator=(PitchTracker&&) noexcept = default;

PitchTracker::Output PitchTracker::process(std::span<const float>) noexcept { return {}; }
void PitchTracker::hint(const StringHint&) noexcept {}
void PitchTracker::reset() noexcept {}

}  // namespace landfall
