#include "src/audio/simulated_hand.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "dsp/statistics.h"
#include "src/audio/plucked_string.h"
#include <utility>

namespace landfall {

namespace {

using std::numbers::pi;
constexpr double keptSeconds = 5.0;  // of points already read, for firstPartialAt

// The smoothest way from 0 to 1: minimum jerk (Flash & Hogan, J. Neurosci. 5, 1985, eq. 3).
double minimumJerk(double u) { return u * u * u * (10.0 - 15.0 * u + 6.0 * u * u); }

}  // namespace

SimulatedHand::SimulatedHand(const SimulatedPlayer::Config& chosen, double pointsPerSecond)
    : config(chosen), rate(pointsPerSecond), engine(chosen.seed) {}

// Own distributions: those of the standard library differ from system to system.
double SimulatedHand::uniform(double low, double high) {
    return low + (high - low) * static_cast<double>(engine()) / 4294967296.0;
}
double SimulatedHand::normal(double average, double spread) {
    const double u = 1.0 - uniform(0.0, 1.0), v = uniform(0.0, 1.0);
    const double z = std::sqrt(-2.0 * std::log(u)) * std::cos(2.0 * pi * v);
    return average + spread * std::clamp(z, -2.5, 2.5);
}
bool SimulatedHand::chance(double probability) { return uniform(0.0, 1.0) < probability; }

double SimulatedHand::openPitch(int index) const {
    const auto i = static_cast<std::size_t>(index);
    const double offset = i < config.stringOffsets.size() ? config.stringOffsets[i].value : 0.0;
    return config.guitar.openStrings.at(i).value + offset / 100.0;
}

const HandPoint* SimulatedHand::next() {
    if (taken == points.size()) return nullptr;
    while (static_cast<double>(taken) > keptSeconds * rate) {
        points.pop_front();
        ++first;
        --taken;
    }
    return &points[taken++];
}

void SimulatedHand::skip() {
    rest(1.0 / rate);
    (void)next();
}

const HandPoint* SimulatedHand::at(std::int64_t number) const {
    if (number < first || number >= end()) return nullptr;
    return &points[static_cast<std::size_t>(number - first)];
}

// ---- drawing

void SimulatedHand::point() {
    HandPoint drawn = pending;
    pending = HandPoint{};
    drawn.pitch = pitch + attackGlide(Cents(glide), Seconds(sinceStroke)) / 100.0;
    drawn.fret = static_cast<float>(fret);
    drawn.bend = static_cast<float>(100.0 * (pitch - stoppedPitch));
    drawn.string = static_cast<std::int8_t>(string);
    drawn.sounding = sounding;
    points.push_back(drawn);
    sinceStroke += 1.0 / rate;
}

void SimulatedHand::strike(double level) {
    pending.strike = static_cast<float>(level);
    pending.ringOn = std::exchange(ringOn, false);
    stroke = end();
    glide = 10.0 * config.skill.pickAttack * level / 0.16;
    sinceStroke = 0.0;
    sounding = true;
}

void SimulatedHand::hold(double length, double driftPerSecond) {
    for (std::int64_t i = span(length); i > 0; --i) {
        pitch += driftPerSecond / rate / 100.0;
        point();
    }
}

void SimulatedHand::travel(double toPitch, double length, double early) {
    const double from = pitch;
    const std::int64_t count = std::max<std::int64_t>(1, span(length));
    for (std::int64_t i = 1; i <= count; ++i) {
        const double u = std::pow(static_cast<double>(i) / static_cast<double>(count), early);
        pitch = from + (toPitch - from) * minimumJerk(u);
        point();
    }
}

// The finger moves smoothly; the string is stopped by the fret behind it, so that the pitch climbs a staircase.
void SimulatedHand::slide(int toFret, double perFret, double setup) {
    const int from = static_cast<int>(std::lround(fret)), frets = std::abs(toFret - from), way = toFret > from ? 1 : -1;
    const std::int64_t count = std::max<std::int64_t>(2, span(std::max(0.05, perFret * frets)));
    const double fromPitch = pitch, edge = 0.004 * rate;  // 4 ms to settle on the new fret
    const double base = stoppedPitch;
    double target = pitch;
    double slid = pitch;
    for (std::int64_t i = 1; i <= count; ++i) {
        const double u = static_cast<double>(i) / static_cast<double>(count);
        const int crossed = static_cast<int>(std::lround(frets * minimumJerk(u)));
        const int now = from + way * crossed;
        if (now != static_cast<int>(std::lround(fret))) pending.lose = 0.05F;
        fret = now;
        stoppedPitch = base + way * crossed;
        target = crossed == frets ? stoppedPitch + setup / 100.0 : crossed == 0 ? fromPitch : stoppedPitch;
        slid += std::clamp(target - slid, -1.0 / edge, 1.0 / edge);
        pitch = slid;
        pending.scrape = static_cast<float>(0.004 * minimumJerk(u) * (1.0 - minimumJerk(u)) * 4.0);
        point();
    }
    while (std::abs(target - pitch) > 1e-9) {
        pitch += std::clamp(target - pitch, -1.0 / edge, 1.0 / edge);
        point();
    }
}

// Fretted notes only rise, bent ones are let down from the top; the width grows over the first cycle.
void SimulatedHand::vibrato(double length, bool downwards) {
    const double centre = pitch, hertz = config.skill.vibratoRate.value * uniform(0.97, 1.03);
    const double width = std::max(8.0, normal(config.skill.vibratoWidth.value, config.skill.vibratoSpread.value));
    const double cycles = std::max(2.0, std::round(length * hertz));
    for (std::int64_t i = 1, count = span(cycles / hertz); i <= count; ++i) {
        const double t = static_cast<double>(i) / rate;
        const double excursion = 0.5 * width * (1.0 - std::cos(2.0 * pi * hertz * t)) * std::min(1.0, t * hertz);
        pitch = centre + (downwards ? -excursion : excursion) / 100.0;
        point();
    }
    pitch = centre;
}

void SimulatedHand::muteStrings() {
    pending.damp = 0.012F;
    hold(0.07);
    sounding = false;
    hold(0.03);
}

void SimulatedHand::rest(double length) {
    sounding = false;
    hold(length);
}

// ---- a try

void SimulatedHand::chooseString(const Move& move) {
    const Guitar& guitar = config.guitar;
    // The note that the hand frets: the lower one of a bend, whichever way it is played.
    const double fretted = move.frettedNote().value;
    if (move.place) {
        string = std::clamp(move.place->string, 1, guitar.stringCount()) - 1;
        fret = move.place->fret + guitar.capo;
    } else {
        double best = 1e9;
        for (int i = 0; i < guitar.stringCount(); ++i) {
            const double candidate = fretted - guitar.openStrings[static_cast<std::size_t>(i)].value;
            const double highest = std::max(candidate, candidate + (move.to.value - fretted));
            if (candidate < guitar.capo || highest > guitar.highestFret + (kindOf(move.gesture).bends ? 4 : 0))
                continue;
            if (std::abs(candidate - 8.0) < best) {
                best = std::abs(candidate - 8.0);
                string = i;
                fret = std::round(candidate);
            }
        }
        if (best == 1e9) {  // not on this guitar: played on the nearest string all the same
            string = fretted > guitar.openStrings.front().value ? 0 : guitar.stringCount() - 1;
            fret = std::round(fretted - guitar.openStrings[static_cast<std::size_t>(string)].value);
        }
    }
    stoppedPitch = openPitch(string) + fret;
}

double SimulatedHand::stopError(const Move& move, const PlayerWish& wish) {
    if (wish.firstStopError) return wish.firstStopError->value;
    const PlayerSkill& skill = config.skill;
    if (!kindOf(move.gesture).bends) return normal(0.0, skill.setupSpread.value);
    // down to the fret: it can only stay sharp
    if (move.gesture == Gesture::release && move.to.value < stoppedPitch + 0.3)
        return std::abs(normal(0.0, 0.3 * skill.spread.value)) + normal(0.0, skill.setupSpread.value);
    const double bent = std::abs(move.to.value - stoppedPitch) / 2.0;  // in whole steps
    const double learned =
        skill.triesToLearn > 0.0 ? std::exp(-(config.triesBefore + tries - 1) / skill.triesToLearn) : 1.0;
    const double left = skill.triesToLearn > 0.0 ? skill.biasLeft.value : skill.bias.value;
    const double bias = left + (skill.bias.value - left) * learned;
    return bent * bias + normal(0.0, skill.spread.value * std::sqrt(std::max(0.25, bent)));
}

Played SimulatedHand::decide(const Move& move, const PlayerWish& wish) {
    if (wish.played) return *wish.played;
    const PlayerSkill& skill = config.skill;
    const bool died = chance(skill.diedChance), wrong = chance(skill.wrongFretChance),
               other = chance(skill.otherIntervalChance);
    if (wish.firstStopError || kindOf(move.gesture).course == Course::stands) return Played::landed;
    if (died) return Played::died;
    if (kindOf(move.gesture).overFrets) return wrong ? Played::wrongFret : Played::landed;
    return other && move.gesture != Gesture::release ? Played::otherInterval : Played::landed;
}

// Where the hand means to go, before its error: another interval is a half step less, or more where a half step was
// asked.
double SimulatedHand::playedTarget(const Move& move, const PlayerWish& wish, Played played) {
    double target =
        move.to.value + (openPitch(string) - config.guitar.openStrings[static_cast<std::size_t>(string)].value);
    if (played == Played::otherInterval) {
        const double step = move.to.value > stoppedPitch + 1.5 ? -1.0 : 1.0;
        target += step;
    }
    return target + stopError(move, wish) / 100.0;
}

// Up to the stroke and through the note before the gesture; a pre-bend sounds bent from the stroke, which perform does.
void SimulatedHand::begin(const Move& move, const PlayerWish& wish) {
    chooseString(move);
    const PlayerSkill& skill = config.skill;
    const double offset = openPitch(string) - config.guitar.openStrings[static_cast<std::size_t>(string)].value;
    const bool open = fret < 0.5 || kindOf(move.gesture).course == Course::stands;
    const double error = wish.startError ? wish.startError->value
                         : open          ? 0.0
                                         : normal(skill.startBias.value, skill.setupSpread.value);
    pitch = move.from.value + offset + error / 100.0;
    if (kindOf(move.gesture).fromStroke) return;
    strikeFirst(wish);
    hold(wish.linger ? wish.linger->value : std::max(0.15, normal(skill.start.value, skill.startSpread.value)));
}

void SimulatedHand::strikeFirst(const PlayerWish& wish) {
    const PlayerSkill& skill = config.skill;
    const double level = std::max(0.05, normal(skill.loudness, skill.loudnessSpread));
    const bool twice = chance(skill.doubleStrokeChance);
    if (wish.doubleStroke ? *wish.doubleStroke : twice) {
        strike(level * uniform(0.7, 1.0));
        hold(uniform(0.35, 0.5));
    }
    strike(level);
    if (wish.played == Played::twoStrings)
        pending.neighbour = static_cast<std::int8_t>(string > 0 ? string - 1 : string + 1);
}

bool SimulatedHand::perform(const Move& move, const PlayerWish& wish, bool last, MoveTruth& truth) {
    const bool fromStroke = kindOf(move.gesture).fromStroke;
    truth.played = decide(move, wish);
    Stop stop;
    if (fromStroke) {
        pitch = playedTarget(move, wish, truth.played);
        strikeFirst(wish);
    }
    truth.onset = Seconds(seconds(stroke));
    stop.start = end();
    if (!fromStroke)
        truth.startError = Cents(
            median(cents(std::max(seconds(stroke) + 0.06, seconds(end()) - 0.1), seconds(end()), move.from.value)));
    if (truth.played == Played::died && fromStroke) {
        hold(uniform(0.03, 0.08));
        die(0.02);
        return false;
    }
    if (kindOf(move.gesture).overFrets) slideMove(move, wish, truth);
    else if (!fromStroke) bendMove(move, wish, truth);
    if (truth.played == Played::died) return false;
    stop.stopped = fromStroke ? stroke : end();
    correct(move, wish, truth, stop);
    holdOn(move, wish, last, stop);
    measure(truth, stop);
    return true;
}

void SimulatedHand::die(double timeConstant) {
    pending.damp = static_cast<float>(timeConstant);
    hold(6.0 * timeConstant);
    rest(0.3);
}

void SimulatedHand::fail(const PlayerWish& wish, const Way& way) {
    // Its own numbers, so that what goes wrong in one try leaves the next ones as they are.
    std::mt19937 drawn(config.seed * 7919U + static_cast<std::uint32_t>(tries));
    const auto between = [&drawn](double low, double high) {
        return low + (high - low) * static_cast<double>(drawn()) / 4294967296.0;
    };
    switch (wish.failing.value_or(static_cast<Failing>(drawn() % 6U))) {
        case Failing::damped: way.go(between(0.4, 0.75)); return die(0.02);
        case Failing::early: way.go(between(0.1, 0.35)); return die(between(0.01, 0.04));
        case Failing::late: way.go(between(0.75, 0.85)); return die(between(0.01, 0.04));
        case Failing::letDown:
            way.go(between(0.35, 0.8));
            hold(between(0.03, 0.15));
            way.back();
            hold(between(0.1, 0.5));
            return die(0.02);
        case Failing::gaveUp:
            way.go(between(0.35, 0.75));
            hold(between(0.08, 0.25));
            return die(between(0.02, 0.1));
        case Failing::faded:
            pending.damp = static_cast<float>(between(0.05, 0.12));
            way.go(between(0.7, 0.85));
            return die(between(0.05, 0.1));
    }
}

void SimulatedHand::bendMove(const Move& move, const PlayerWish& wish, MoveTruth& truth) {
    const PlayerSkill& skill = config.skill;
    const double target = playedTarget(move, wish, truth.played), from = pitch;
    const double early = std::clamp(normal(skill.early, skill.earlySpread), 0.7, 1.4);
    const double length =
        wish.rise ? wish.rise->value : std::max(0.08, normal(skill.rise.value, skill.riseSpread.value));
    if (truth.played == Played::died) {
        fail(wish, {[&](double share) { travel(from + share * (target - from), length * std::sqrt(share), early); },
                    [&] { travel(from, length, 1.0); }});
        return;
    }
    const double swing = wish.overshoot ? wish.overshoot->value : skill.shoot.value * 0.15 / length * uniform(0.0, 1.0);
    if (move.gesture == Gesture::release || swing < 1.0) {
        travel(target, length, early);
    } else {
        travel(target + swing / 100.0, length, early);
        travel(target, 0.09, 1.0);
    }
}

void SimulatedHand::slideMove(const Move& move, const PlayerWish& wish, MoveTruth& truth) {
    const PlayerSkill& skill = config.skill;
    const int asked = move.targetFret ? *move.targetFret + config.guitar.capo
                                      : static_cast<int>(std::lround(fret + move.to.value - move.from.value));
    const int from = static_cast<int>(std::lround(fret)), way = asked > from ? 1 : -1;
    truth.linger = Seconds(seconds(end()) - truth.onset.value);
    const double error = stopError(move, wish),
                 perFret = std::max(0.012, normal(skill.slidePerFret.value, 0.15 * skill.slidePerFret.value));
    const double pace = wish.rise ? wish.rise->value / std::abs(asked - from) : perFret;
    if (truth.played == Played::died) {
        const int frets = std::abs(asked - from);
        fail(wish, {[&](double share) {
                        if (frets < 2) return;
                        const int crossed = std::clamp(static_cast<int>(std::lround(share * frets)), 1, frets - 1);
                        slide(from + way * crossed, pace, 0.0);
                    },
                    [&] { slide(from, pace, 0.0); }});
        return;
    }
    int landed = asked;
    if (truth.played == Played::wrongFret) landed += (chance(0.5) && asked - way != from) ? -way : way;
    const bool past = chance(skill.overshootChance);
    const int beyond = wish.slideOvershoot ? *wish.slideOvershoot : past && truth.played == Played::landed ? 1 : 0;
    if (beyond > 0) {
        slide(landed + way * beyond, pace, 0.0);
        hold(uniform(0.05, 0.09));
    }
    slide(landed, pace, error);
    truth.landedFret = landed - config.guitar.capo;
}

void SimulatedHand::correct(const Move& move, const PlayerWish& wish, MoveTruth& truth, Stop& stop) {
    const double offset = 100.0 * (pitch - move.to.value);
    const bool heard = chance(config.skill.correctionChance);
    const bool own = heard && kindOf(move.gesture).bends && !wish.firstStopError && truth.played == Played::landed
                     && std::abs(offset) >= 14.0;
    if (!wish.correctedError && !own) return;
    hold(uniform(0.2, 0.3));
    const double to = wish.correctedError ? wish.correctedError->value : config.skill.correctionLeaves * offset;
    truth.corrected = std::abs(to - offset) >= 12.0;
    travel(move.to.value + to / 100.0, uniform(0.1, 0.16), 1.0);
    if (truth.corrected) stop.corrected = end();
}

// The hold, its vibrato where one is asked for, and the sag at its end.
void SimulatedHand::holdOn(const Move& move, const PlayerWish& wish, bool last, Stop& stop) {
    const PlayerSkill& skill = config.skill;
    const double own = std::clamp(normal(skill.hold.value, skill.holdSpread.value), 0.65, 1.7);
    const double length = wish.hold ? wish.hold->value : last ? own : 0.6 * own;
    const bool bent = kindOf(move.gesture).bends && pitch > stoppedPitch + 0.3;
    const double drift = bent ? skill.driftPerSecond.value : 0.0;
    const double ownSag = std::max(0.0, normal(skill.sagBias.value, skill.sagSpread.value));
    const double sag = wish.sag ? wish.sag->value : bent && last ? ownSag : 0.0;
    if (wish.vibrato || move.gesture == Gesture::vibrato) {
        hold(0.35);
        stop.vibrato = end();
        vibrato(std::max(0.75, length - 0.35), bent);
        stop.vibratoEnd = end();
    } else {
        hold(std::max(0.4, length - 0.2), drift);
    }
    stop.holdEnd = end();
    if (last) {
        travel(pitch - sag / 100.0, 0.1, 1.0);
        hold(0.1);
    }
}

void SimulatedHand::play(const std::vector<Move>& steps, const PlayerWish& wish) {
    if (steps.empty()) return;
    if (!steps.front().with.empty()) return playTogether(steps, wish);
    std::vector<PlayerWish> wishes(steps.size());
    wishes.back() = wish;
    playSteps(steps, wishes);
}

void SimulatedHand::playSteps(const std::vector<Move>& steps, const std::vector<PlayerWish>& wishes) {
    ++tries;
    begin(steps.front(), wishes.front());
    const std::size_t firstTruth = truths.size();
    bool alive = true;
    for (std::size_t i = 0; i < steps.size() && alive; ++i) {
        const bool last = i + 1 == steps.size();
        MoveTruth truth;
        truth.tryNumber = tries;
        truth.moveNumber = static_cast<int>(i) + 1;
        truth.move = steps[i];
        alive = perform(steps[i], wishes[i], last, truth);
        truths.push_back(truth);
    }
    if (alive) muteStrings();
    const double stopped = seconds(end());
    for (std::size_t i = firstTruth; i < truths.size(); ++i) truths[i].end = Seconds(stopped);
    rest(0.25);
}

// ---- the truth, by the judge's definitions, on the pitch as it was drawn

std::vector<double> SimulatedHand::cents(double from, double to, double against) const {
    std::vector<double> values;
    const std::int64_t start = span(from);
    const std::int64_t stop = std::max(start + 1, span(to));
    for (std::int64_t i = std::max(first, start); i < stop; ++i)
        if (const HandPoint* drawn = at(i)) values.push_back(100.0 * (drawn->pitch - against));
    return values;
}

// The last entry into 8 cents around the pitch that follows.
double SimulatedHand::arrivalBefore(double stopped, double holdEnd, double notBefore) const {
    double arrival = stopped;
    for (int pass = 0; pass < 2; ++pass) {
        const double level = median(cents(arrival + 0.02, std::min(arrival + 0.15, holdEnd), 0.0));
        std::int64_t i = span(stopped);
        while (i > span(notBefore) && std::abs(100.0 * at(i - 1)->pitch - level) <= 8.0) --i;
        arrival = seconds(i);
    }
    return arrival;
}

// Of a hand that comes in slowly (under 150 cents/s): where over 0.15 s it goes on by less than 10 cents/s.
double SimulatedHand::restAfter(double arrival, double holdEnd, double way) const {
    constexpr double within = 0.15, fastest = 150.0, rests = 10.0;
    if (!at(span(arrival - within))) return arrival;
    const auto speed = [&](double from) {
        return way * 100.0 * (at(span(from + within))->pitch - at(span(from))->pitch) / within;
    };
    if (speed(arrival - within) < rests || speed(arrival - within) > fastest) return arrival;
    double rest = arrival;
    while (rest + 2.0 * within < holdEnd && speed(rest) > rests) rest += 1.0 / rate;
    return rest;
}

void SimulatedHand::measure(MoveTruth& truth, const Stop& stop) const {
    const bool fromStroke = stop.stopped == stroke;
    const double onset = truth.onset.value, stopped = seconds(stop.stopped), holdEnd = seconds(stop.holdEnd),
                 target = truth.move.to.value;
    const double way = truth.move.direction();
    const double arrival =
        fromStroke ? onset : restAfter(arrivalBefore(stopped, holdEnd, seconds(stop.start)), holdEnd, way);
    truth.arrival = Seconds(arrival);
    truth.firstStopError = Cents(median(cents(arrival + 0.02, arrival + 0.15, target)));
    const double settled = stop.corrected >= 0 ? arrivalBefore(seconds(stop.corrected), holdEnd, stopped) : arrival;
    const double cut = stop.vibrato >= 0 ? seconds(stop.vibrato) : holdEnd;
    const double from = std::clamp(cut - 0.03, settled, settled + 0.06);  // of a hold cut short the last of it
    const std::vector<double> landing = cents(from, std::min(settled + 0.31, cut), target);
    truth.landingError = Cents(median(landing));
    truth.holdLength = Seconds(seconds(end()) - settled);
    const double tail = median(cents(seconds(end()) - 0.06, seconds(end()), target));
    truth.sag = Cents(stop.holdEnd == end() ? 0.0 : std::max(0.0, truth.landingError->value - tail));
    if (!fromStroke) {
        truth.riseTime = Seconds(arrival - seconds(stop.start));
        double furthest = 0.0;
        for (const double value : cents(seconds(stop.start), arrival, target))
            furthest = std::max(furthest, way * (value - truth.firstStopError->value));
        truth.overshoot = Cents(furthest);
    }
    measureVibrato(truth, stop);
}

void SimulatedHand::measureVibrato(MoveTruth& truth, const Stop& stop) const {
    if (stop.vibrato < 0) return;
    const std::vector<double> all = cents(seconds(stop.vibrato), seconds(stop.vibratoEnd), truth.move.to.value);
    const double centre = 0.5 * (*std::min_element(all.begin(), all.end()) + *std::max_element(all.begin(), all.end()));
    std::vector<double> rises;
    for (std::size_t i = 1; i < all.size(); ++i)
        if (all[i - 1] < centre && all[i] >= centre) rises.push_back(static_cast<double>(i));
    // The width grows over the first cycle, which is left out; then whole cycles from one upward crossing to the last.
    if (!rises.empty()) rises.erase(rises.begin());
    if (rises.size() < 2) return;
    const auto begin = all.begin() + static_cast<std::ptrdiff_t>(rises.front()),
               stopAt = all.begin() + static_cast<std::ptrdiff_t>(rises.back());
    const double bottom = *std::min_element(begin, stopAt), top = *std::max_element(begin, stopAt);
    const double rateHertz = static_cast<double>(rises.size() - 1) / ((rises.back() - rises.front()) / rate);
    truth.vibrato = MoveTruth::Vibrato{Hertz(rateHertz), Cents(top - bottom), Cents(bottom), Cents(top)};
}

// ---- between tries

// What students do between tries: quick runs in a minor pentatonic, hammered or struck, with little bends and muted
// strokes.
void SimulatedHand::noodle(double length, NeckPlace around) {
    const double finish = seconds(end()) + length - 0.55;
    constexpr std::array<int, 6> steps{-2, 0, 0, 3, 3, 5};
    while (seconds(end()) < finish) {
        const int strings = config.guitar.stringCount();
        const int newString = std::clamp(around.string - 1 + static_cast<int>(uniform(-1.0, 2.0)), 0, strings - 1);
        const int newFret =
            std::clamp(around.fret + config.guitar.capo + steps[static_cast<std::size_t>(uniform(0.0, 5.999))], 0,
                       config.guitar.highestFret);
        const bool same = newString == string && sounding;
        string = newString;
        fret = newFret;
        stoppedPitch = openPitch(string) + fret;
        pitch = stoppedPitch + (newFret > 0 ? normal(0.0, config.skill.setupSpread.value) / 100.0 : 0.0);
        if (!same || chance(0.6))
            strike(std::max(0.05, normal(config.skill.loudness, config.skill.loudnessSpread)) * uniform(0.5, 1.0));
        if (chance(0.12)) {  // a muted stroke
            pending.damp = 0.006F;
            hold(uniform(0.08, 0.16));
        } else if (chance(0.15) && newFret > 0) {
            hold(uniform(0.05, 0.1));
            travel(pitch + uniform(0.3, 0.9), uniform(0.08, 0.15), 1.0);
            travel(stoppedPitch, uniform(0.08, 0.15), 1.0);
        } else {
            hold(uniform(0.09, 0.24));
        }
        if (chance(0.1)) {
            muteStrings();
            pending.scrape = 0.01F;
            hold(uniform(0.1, 0.4));
        }
    }
    muteStrings();
    rest(std::max(0.45, finish + 0.55 - seconds(end())));
}

}  // namespace landfall
