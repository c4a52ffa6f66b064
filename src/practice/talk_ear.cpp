#include "src/practice/talk_ear.h"

#include <algorithm>

namespace landfall {

std::span<const std::size_t> TalkEar::hear(std::optional<double> cents, bool struck) {
    talk.clear();
    frames.push_back({cents, struck});
    if (frames.size() > config.window) frames.pop_front();
    stand();
    if (++untilLook < config.lookEvery) return talk;
    untilLook = 0;
    keepHeld();
    if (isTalk()) tell(config.held + config.beside);
    return talk;
}

std::span<const std::size_t> TalkEar::finish() {
    talk.clear();
    keepHeld();
    if (isTalk()) tell(0);
    return talk;
}

void TalkEar::stand() {
    if (frames.size() < config.standsFor) return;
    const auto first = frames.end() - static_cast<std::ptrdiff_t>(config.standsFor);
    if (std::any_of(first, frames.end(), [](const Frame& each) { return !each.cents; })) return;
    const auto [low, high] = std::ranges::minmax(std::ranges::subrange(first, frames.end()), {},
                                                 [](const Frame& each) { return *each.cents; });
    if (*high.cents - *low.cents >= config.standsWithin) return;
    std::for_each(first, frames.end(), [](Frame& each) { each.stands = true; });
}

void TalkEar::keepHeld() {
    std::size_t stood = 0;
    for (std::size_t i = 0; i < frames.size(); ++i) {
        stood = frames[i].stands ? stood + 1 : 0;
        if (stood < config.held) continue;
        const std::size_t from = i - std::min(i, stood + config.beside);
        for (std::size_t k = stood == config.held ? from : i; k < std::min(frames.size(), i + config.beside); ++k)
            frames[k].played = true;
    }
}

bool TalkEar::isTalk() const {
    std::size_t pitched = 0, standing = 0;
    int strokes = 0;
    for (const Frame& each : frames) {
        pitched += each.cents ? 1 : 0;
        standing += each.stands ? 1 : 0;
        strokes += each.struck ? 1 : 0;
    }
    return pitched >= config.pitched && strokes >= config.strokes
           && static_cast<double>(standing) < config.stands * static_cast<double>(pitched);
}

void TalkEar::tell(std::size_t undecided) {
    for (std::size_t i = 0; i + undecided < frames.size(); ++i) {
        if (frames[i].played || frames[i].told) continue;
        frames[i].told = true;
        talk.push_back(frames.size() - 1 - i);
    }
}

}  // namespace landfall
