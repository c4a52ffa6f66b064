#include "src/app/input_watch.h"

#include <algorithm>
#include <utility>

#include "src/practice/effect_ear.h"

namespace landfall {

void InputWatch::level(const InputLevel& now) {
    clock += 0.1;
    if (!now.noSignal) silentSince.reset();
    else if (!silentSince) silentSince = clock;
    if (now.clipping) {
        clipped = strokeClipped = true;
        cleanRun = 0;
    }

    if (!tenths.empty() && tenths.back().peak > config.gateFrom.value && now.peak.value < config.gateTo.value
        && clock > gapUntil)
        cuts.push_back(clock);
    while (!cuts.empty() && clock - cuts.front() > config.gateWindow) cuts.pop_front();
    tenths.push_back({clock, now.peak.value, now.rms.value});
    while (clock - tenths.front().at > config.roomWindow) tenths.pop_front();
    while (!pitched.empty() && clock - pitched.front().first > config.roomWindow) pitched.pop_front();
    const auto [quietest, loudest] =
        std::minmax_element(tenths.begin(), tenths.end(), [](const Tenth& a, const Tenth& b) { return a.rms < b.rms; });
    const auto withPitch =
        std::count_if(pitched.begin(), pitched.end(), [](const auto& frame) { return frame.second; });
    const bool whole = clock - tenths.front().at > config.roomWindow - 0.5;
    roomLoud = whole && !pitched.empty() && quietest->rms > config.roomFloor.value
               && quietest->rms > loudest->rms - config.roomMargin
               && static_cast<double>(withPitch) <= config.roomPitched * static_cast<double>(pitched.size());

    if (!strokeAt) return;
    strokePeak = std::max(strokePeak.value_or(-140.0), now.peak.value);
    if (clock < *strokeAt + 0.25) return;
    quietRun = *strokePeak < config.quietStroke.value ? quietRun + 1 : 0;
    cleanRun = std::exchange(strokeClipped, false) ? 0 : cleanRun + 1;
    if (cleanRun >= config.cleanStrokes) clipped = false;
    strokeAt.reset();
    strokePeak.reset();
}

void InputWatch::hear(const ListenerEvent& event) {
    if (const auto* now = std::get_if<InputLevel>(&event)) level(*now);
    if (const auto* live = std::get_if<LivePitch>(&event)) pitched.emplace_back(clock, live->frame.pitch.has_value());
    if (std::holds_alternative<PickStroke>(event)) strokeAt = clock;
    // Each drill has a listener of its own, which may tell it anew.
    if (const auto* now = std::get_if<EffectHeard>(&event); now && !std::ranges::count(effects, now->effect)) {
        effects.push_back(now->effect);
        effectAt = clock;
    }
}

void InputWatch::gap(Seconds missing) {
    gapUntil = clock + missing.value + 0.2;
    const bool wasAway = device != Device::running || (backAt && clock - *backAt < 1.0);
    if (missing.value > 0.0 && !wasAway) droppedAt = clock;
}

void InputWatch::gone(std::string line) {
    device = Device::gone;
    deviceLine = std::move(line);
    backAt.reset();
}

void InputWatch::absent(std::string line) {
    // a device that was there and cannot be found now is still the one to plug in again
    if (device == Device::gone) return;
    device = Device::absent;
    deviceLine = std::move(line);
}

void InputWatch::running(bool again) {
    device = Device::running;
    deviceLine.clear();
    noOutput = false;
    if (again) backAt = clock;
    silentSince.reset();
}

void InputWatch::outputGone() { noOutput = true; }

void InputWatch::wait(Seconds elapsed) { clock += elapsed.value; }

bool InputWatch::silent() const {
    const bool gated = static_cast<int>(cuts.size()) >= config.gateCuts;
    return silentSince && clock - *silentSince >= (gated ? config.gatedCableAfter : config.cableAfter);
}

bool InputWatch::away() const { return device != Device::running || silent(); }

std::vector<Notice> InputWatch::notices() const {
    const auto within = [this](const std::optional<double>& since, double seconds) {
        return since && clock - *since <= seconds;
    };
    if (device == Device::absent) return {{Trouble::noDevice, deviceLine}};
    if (device == Device::gone) return {{Trouble::deviceLost, deviceLine}};
    std::vector<Notice> all;
    const bool gated = static_cast<int>(cuts.size()) >= config.gateCuts;
    if (silent()) all.push_back({Trouble::noSignal, {}});
    else if (quietRun >= config.quietStrokes) all.push_back({Trouble::tooQuiet, {}});
    if (roomLoud) all.push_back({Trouble::roomTooLoud, {}});
    if (clipped) all.push_back({Trouble::clipping, {}});
    if (gated) all.push_back({Trouble::gateCutting, {}});
    if (within(effectAt, config.effectFor))
        all.push_back({Trouble::effectHeard, std::string(effectSentence(effects.back()))});
    if (noOutput) all.push_back({Trouble::noOutput, {}});
    if (within(backAt, config.backFor)) all.push_back({Trouble::deviceBack, {}});
    if (within(droppedAt, config.droppedFor)) all.push_back({Trouble::droppedSamples, {}});
    return all;
}

}  // namespace landfall
