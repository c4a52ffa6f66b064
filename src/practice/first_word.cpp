#include "src/practice/first_word.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace landfall {

namespace {

// Whether the string has just been damped, or a room is what is left of it.
bool fades(const Note& of, const JudgeConfig& judging, const FirstWordConfig& config) {
    double loudest = -140.0;
    for (auto point = of.points().rbegin();
         point != of.points().rend() && point->time > of.points().back().time - config.stop; ++point)
        loudest = std::max(loudest, point->level);
    return of.points().back().level < std::max(loudest - config.fades, of.loudest() - judging.soundingLevel);
}

// Whether the pitch has kept flat to the last point, for as long as a first word needs.
bool hasStopped(const Note& of, const FirstWordConfig& config) {
    const double end = of.points().back().time, third = config.stop / 3.0;
    std::array<std::optional<double>, 3> levels;
    double noise = 0.0;
    for (std::size_t i = 0; i < levels.size(); ++i)
        levels[i] = medianCents(of.points(), end - third * (3.0 - static_cast<double>(i)),
                                end - third * (2.0 - static_cast<double>(i)));
    for (auto point = of.points().rbegin(); point != of.points().rend() && point->time > end - config.stop; ++point)
        noise = std::max(noise, std::min(point->sd, 4.0));
    if (!levels[0] || !levels[1] || !levels[2]) return false;
    const auto [low, high] = std::minmax({*levels[0], *levels[1], *levels[2]});
    const double rose = *levels[1] - *levels[0], fell = *levels[1] - *levels[2];
    const bool turned = rose * fell > 0.0 && std::abs(fell) > config.turned * std::max(1.0, noise);
    return high - low <= config.flat + noise && !turned;
}

}  // namespace

std::optional<JudgeConfig> firstLook(const Note& early, const JudgeConfig& judging, const FirstWordConfig& config) {
    const bool stopped = early.points().back().time - early.onset < config.everyFrame && hasStopped(early, config);
    if ((!stopped && early.points().size() % 4 != 0) || fades(early, judging, config)) return std::nullopt;
    JudgeConfig look = judging;
    look.stopLeastSounding = stopped ? config.stop : config.uneven;
    return look;
}

bool maySay(const Landing& landing, double targetCents, const Note& early, const Note* settled,
            const JudgeConfig& judging, const FirstWordConfig& config) {
    if (!landing.landingError || landing.correction || std::abs(landing.landingError->value) > config.farthest)
        return false;
    const double now = early.points().back().time, stayed = now - landing.landingTime->value;
    if (stayed < config.said) return false;
    const auto level = medianCents(early.points(), now - config.stop / 3.0, now);
    if (!level || std::abs(*level - targetCents - landing.landingError->value) > config.leaves) return false;
    return !settled || !comesSlowly(settled->points(), now, landing.move.direction(), judging);
}

}  // namespace landfall
