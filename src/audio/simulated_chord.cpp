// The simulated player's hand on several strings: a finger on each, drawn alone and then joined. One thread.
#include <algorithm>
#include <cmath>

#include "dsp/statistics.h"
#include "src/audio/simulated_hand.h"
#include "src/music/chord_move.h"

namespace landfall {

namespace {

constexpr double loudEnough = 3.0;  // strings: of more each is picked softer, so that their sum does not clip

// What all fingers do at the same time; each has its own error.
PlayerWish inStep(const PlayerWish& wish, double start, double rise, double hold) {
    PlayerWish common = wish;
    common.linger = wish.linger.value_or(Seconds(start));
    common.rise = wish.rise.value_or(Seconds(rise));
    common.hold = wish.hold.value_or(Seconds(hold));
    common.doubleStroke = false;
    common.slideOvershoot = wish.slideOvershoot.value_or(0);  // one hand slides all of them
    if (!common.played) common.played = Played::landed;
    return common;
}

// One string's moves of all steps. One that is only held is one note, as long as all of it.
std::vector<Move> ownSteps(const std::vector<Move>& steps, std::size_t string) {
    std::vector<Move> own;
    for (const Move& step : steps) own.push_back(stringsOf(step)[string]);
    if (std::all_of(own.begin(), own.end(), [](const Move& each) { return each.gesture == Gesture::note; }))
        own.resize(1);
    return own;
}

std::size_t leadingString(const Move& move) {
    const auto strings = stringsOf(move);
    const auto leads = std::find_if(strings.begin(), strings.end(),
                                    [&](const Move& each) { return each.from == move.from && each.to == move.to; });
    return static_cast<std::size_t>(leads - strings.begin());
}

}  // namespace

// Another finger's string, from its stroke so many points after this one's on; what it draws before is not heard.
void SimulatedHand::join(const SimulatedHand& finger, std::size_t other, std::int64_t later, double drag) {
    const auto& leading = points[static_cast<std::size_t>(stroke - first)];
    const double from = leading.pitch;
    double widest = 1e-9;
    for (std::int64_t at = stroke; at < end(); ++at)
        widest = std::max(widest, std::abs(points[static_cast<std::size_t>(at - first)].pitch - from));
    for (std::int64_t at = stroke + later; at < end(); ++at) {
        const std::int64_t theirs = std::min(finger.stroke + at - stroke - later, finger.end() - 1);
        const HandPoint& drawn = finger.points[static_cast<std::size_t>(theirs - finger.first)];
        HandPoint& joined = points[static_cast<std::size_t>(at - first)];
        const double pulled = drag / 100.0 * std::min(1.0, std::abs(joined.pitch - from) / widest);
        const bool begins = at == stroke + later;
        joined.others[other] = {
            drawn.pitch + pulled,         drawn.fret, drawn.bend + static_cast<float>(100.0 * pulled),
            begins ? drawn.strike : 0.0F, drawn.lose, drawn.string};
    }
}

// Median of another string against a note, between two moments; empty where it does not sound.
std::optional<double> SimulatedHand::otherCents(std::size_t other, double from, double to, double against) const {
    std::vector<double> heard;
    for (std::int64_t at = span(from); at < std::min(span(to), end()); ++at) {
        const HandPoint& point = points[static_cast<std::size_t>(at - first)];
        if (point.sounding && point.others[other].string >= 0)
            heard.push_back(100.0 * (point.others[other].pitch - against));
    }
    if (heard.empty()) return std::nullopt;
    return median(std::move(heard));
}

void SimulatedHand::playTogether(const std::vector<Move>& steps, const PlayerWish& wish) {
    const PlayerSkill& skill = config.skill;
    const double start = std::max(0.2, normal(skill.start.value, skill.startSpread.value)),
                 rise = std::max(0.08, normal(skill.rise.value, skill.riseSpread.value)),
                 length = std::clamp(normal(skill.hold.value, skill.holdSpread.value), 0.65, 1.7);
    const PlayerWish common = inStep(wish, start, rise, length);
    const std::size_t count = steps.front().with.size() + 1, leading = leadingString(steps.front());
    std::size_t silent = wish.silent.value_or(count);
    if (!wish.silent && habit(skill.missedChance)) silent = leading == 0 ? count - 1 : 0;
    const auto wishesOf = [&](std::size_t which, std::size_t moves) {
        PlayerWish own = common;
        if (wish.stringErrors[which]) own.firstStopError = wish.stringErrors[which];
        // Picked late it goes when the others go: one hand slides them all.
        if (which == wish.late) own.linger = Seconds(std::max(0.05, common.linger->value - wish.lateBy.value));
        if (moves < steps.size() || steps.front().gesture == Gesture::note)
            own.hold = Seconds(common.linger->value
                               + static_cast<double>(steps.size()) * (common.rise->value + common.hold->value));
        return std::vector<PlayerWish>(moves, own);
    };
    const std::size_t firstTruth = truths.size();
    const auto own = ownSteps(steps, leading);
    playSteps(own, wishesOf(leading, own.size()));
    const double pulled = wish.dragged ? wish.dragged->value : std::abs(normal(0.0, skill.dragSpread.value));
    for (std::size_t which = 0, other = 0; which < count; ++which) {
        if (which == leading) continue;
        const std::size_t place = other++;
        if (which == silent) continue;
        SimulatedPlayer::Config seeded = config;
        seeded.seed = config.seed * 31U + static_cast<std::uint32_t>(8 * tries) + static_cast<std::uint32_t>(which);
        SimulatedHand finger(seeded, rate);
        const auto theirs = ownSteps(steps, which);
        finger.playSteps(theirs, wishesOf(which, theirs.size()));
        const bool held = theirs.front().gesture == Gesture::note && kindOf(steps.front().gesture).bends;
        const double apart = uniform(0.0, 2.0 * skill.strum.value);
        join(finger, place, span(which == wish.late ? wish.lateBy.value : apart), held ? pulled : 0.0);
    }
    pickSofter(loudEnough / std::max(loudEnough, static_cast<double>(count)));
    for (std::size_t i = firstTruth; i < truths.size(); ++i) measureTogether(truths[i], steps[i - firstTruth], leading);
}

// The last stroke, on all its strings.
void SimulatedHand::pickSofter(double share) {
    for (std::int64_t at = stroke; at < end(); ++at) {
        HandPoint& point = points[static_cast<std::size_t>(at - first)];
        point.strike *= static_cast<float>(share);
        for (OtherString& other : point.others) other.strike *= static_cast<float>(share);
    }
}

// In a line the other fingers go in step with the one that is drawn, each with an error of its own.
void SimulatedHand::goInStep(const Move& move, std::int64_t from, MoveTruth& truth) {
    const auto strings = stringsOf(move);
    const std::size_t leading = leadingString(move);
    for (std::size_t which = 0, other = 0; which < strings.size(); ++which) {
        if (which == leading) continue;
        const Move& own = strings[which];
        const double error = 0.01 * normal(0.0, config.skill.setupSpread.value);
        const double stopped = own.place->fret + config.guitar.capo;
        for (std::int64_t at = from; at < end(); ++at) {
            HandPoint& point = points[static_cast<std::size_t>(at - first)];
            const double way = move.width() == 0.0 ? 1.0 : (point.pitch - move.from.value) / move.width();
            const double gone = own.width() * std::clamp(way, 0.0, 1.0);
            const bool overFrets = kindOf(own.gesture).overFrets;
            const double moved = overFrets ? std::round(gone) : gone, onFret = stopped + (overFrets ? moved : 0.0);
            const double sounds = own.from.value + moved + error;
            point.others[other] = {sounds,
                                   static_cast<float>(onFret),
                                   static_cast<float>(100.0 * (sounds - openPitch(own.place->string - 1) - onFret)),
                                   point.strike,
                                   point.lose,
                                   static_cast<std::int8_t>(own.place->string - 1)};
        }
        ++other;
    }
    measureTogether(truth, move, leading);
}

// Each string where it was held after the arrival, and what counts of them.
void SimulatedHand::measureTogether(MoveTruth& truth, const Move& move, std::size_t leading) const {
    truth.move = move;
    const auto asked = stringsOf(move);
    const double arrival = truth.arrival.value_or(truth.onset).value;
    for (std::size_t which = 0, other = 0; which < asked.size(); ++which) {
        if (which == leading) {
            truth.strings.push_back(truth.landingError);
            continue;
        }
        const auto heard = otherCents(other++, arrival + 0.06, arrival + 0.31, asked[which].to.value);
        truth.strings.push_back(heard ? std::optional(Cents(*heard)) : std::nullopt);
    }
    for (const auto& each : truth.strings)
        if (each && truth.landingError && abs(*each) > abs(*truth.landingError)) truth.landingError = each;
    if (isUnison(move) && truth.strings[0] && truth.strings[1])
        truth.landingError = *truth.strings[leading] - *truth.strings[1 - leading];
    truth.firstStopError = truth.landingError;
}

}  // namespace landfall
