// How the simulated hand plays a line in time.
#include <algorithm>
#include <array>
#include <cmath>

#include "src/audio/simulated_hand.h"

namespace landfall {

namespace {

// s. Room for a slide onto the first beat; its first note is heard as its beginning, not as a note (0.12 s and more), and
// a hold ends no earlier than its pitch can be told.
constexpr double lead = 0.12, graceNote = 0.10, shortestHold = 0.08, hammerTakes = 0.004, slipFret = 0.05,
                 hintTakes = 0.12;
constexpr double vibratoAfter = 0.2;
// Shares of a move's time: the note before its bend, the way, the way of a hint.
constexpr double startShare = 0.2, wayShare = 0.4, hintShare = 0.3;

// Sounds on one pitch: a note or a vibrato.
bool stays(const GestureKind& kind) { return kind.course == Course::stands && !kind.overFrets; }

}  // namespace

void SimulatedHand::waitUntil(double second) { hold(std::max(0.0, second - seconds(end()))); }

// The finger leaves the string: `gap` seconds of silence before the next stroke.
void SimulatedHand::letGo(double at, double gap) {
    waitUntil(at - gap);
    pending.damp = 0.008F;
    sounding = false;
    hold(std::max(2.0 / rate, at - seconds(end())));  // else it would damp the next note
}

double SimulatedHand::travelTime(const LineMove& asked) const {
    const PlayerSkill& skill = config.skill;
    switch (asked.move.gesture) {
        case Gesture::slide: return std::max(0.05, skill.slidePerFret.value * std::abs(asked.move.width()));
        case Gesture::slip: return 2.0 * slipFret;
        case Gesture::release: return std::min(0.2, skill.rise.value);
        default: return 0.0;
    }
}

// In which order the moves are played, with the habits of the skill: a bar is begun again once at the most.
std::vector<SimulatedHand::Turn> SimulatedHand::courseOf(const Line& line, double quarter) {
    const LineHabits& habits = config.skill.habits;
    const auto& moves = line.moves;
    std::vector<Turn> course;
    double later = 0.0;
    for (std::size_t i = 0, bar = 0, done = moves.size(); i < moves.size(); ++i) {
        if (i > 0 && moves[i].bar != moves[i - 1].bar && moves[i].picked) bar = i;
        const bool waits = i > 0 && moves[i].picked && habit(habits.hesitates);
        if (waits) later += habits.waits.value;
        course.push_back({i, later, false, waits});
        // Given up where a stroke comes next; with one played the bar would only be picked twice.
        const bool mayStop = i > bar && i + 1 < moves.size() && moves[i + 1].picked && done != bar;
        if (!mayStop || !habit(habits.beginsAgain)) continue;
        done = bar;
        for (std::size_t k = course.size() - (i + 1 - bar); k < course.size(); ++k) course[k].playedAgain = true;
        later += habits.again.value + quarter * (moves[i + 1].beat - moves[bar].beat);
        i = bar - 1;
    }
    return course;
}

// When the hand sets out for a move: at its beat, or so long before that it arrives there.
double SimulatedHand::setsOut(const Line& line, const Turn& turn, double quarter) {
    const LineMove& asked = line.moves[turn.move];
    const double uneven = normal(0.0, config.skill.beatSpread.value);
    if (asked.leaves) return lead + quarter * *asked.leaves + turn.later + uneven;
    const double room = quarter * (turn.move > 0 ? asked.beat - line.moves[turn.move - 1].beat : 1.0);
    double before = asked.anchor == Anchor::landing ? std::min(travelTime(asked), 0.6 * room) : 0.0;
    if (asked.anchor == Anchor::landing && asked.picked) before = std::min(before + graceNote, 0.6 * room);
    return lead + quarter * asked.beat - before + turn.later + uneven;
}

void SimulatedHand::playLine(const Line& line, double tempo) {
    ++tries;
    const double quarter = 60.0 / tempo, begins = seconds(end());
    const auto& moves = line.moves;
    const LineHabits& habits = config.skill.habits;
    const std::vector<Turn> course = courseOf(line, quarter);
    std::vector<double> sets;
    for (const Turn& turn : course) {
        sets.push_back(begins + setsOut(line, turn, quarter));
        if (sets.size() > 1) sets.back() = std::max(sets.back(), sets[sets.size() - 2]);
    }
    const std::size_t firstTruth = truths.size();
    rest(std::max(0.0, (moves.empty() ? begins : sets.front()) - begins));
    for (std::size_t i = 0; i < course.size(); ++i) {
        const bool last = i + 1 == course.size();
        const LineMove& asked = moves[course[i].move];
        const LineMove* next = last ? nullptr : &moves[course[i + 1].move];
        const double written = begins + lead + quarter * asked.ends + course[i].later;
        InTime when{.sets = sets[i], .stops = written, .legato = next != nullptr && !next->picked};
        if (!last) when.stops = when.legato ? sets[i + 1] : std::min(written, sets[i + 1]);
        when.lingers = asked.picked && asked.move.gesture == Gesture::slide && habit(habits.lingers);
        when.wrongString = asked.picked && asked.move.gesture == Gesture::note && habit(habits.wrongString);
        MoveTruth truth;
        truth.tryNumber = tries;
        truth.moveNumber = static_cast<int>(course[i].move) + 1;
        truth.move = asked.move;
        truth.playedAgain = course[i].playedAgain;
        truth.waited = course[i].waited;
        playMove(asked, when, truth);
        truths.push_back(truth);
        const bool another = next != nullptr && next->move.place && asked.move.place
                             && next->move.place->string != asked.move.place->string;
        if (last) muteStrings();
        else if (!when.legato && sounding && another && habit(habits.ringsOver)) waitUntil(when.stops), ringOn = true;
        else if (!when.legato && sounding) letGo(when.stops, uniform(0.0, config.skill.mostGap.value));
        truths.back().end = Seconds(seconds(end()));
    }
    if (truths.size() > firstTruth) rest(0.25);
}

void SimulatedHand::playMove(const LineMove& asked, const InTime& when, MoveTruth& truth) {
    const Move& move = asked.move;
    if (!asked.picked && sounding) waitUntil(when.sets);
    else rest(std::max(0.0, when.sets - seconds(end())));
    const std::int64_t begins = end();
    Stop stop;
    stop.start = end();
    const bool mayFail = !kindOf(move.gesture).onlyInLines && !stays(kindOf(move.gesture));
    truth.played = mayFail ? decide(move, {}) : Played::landed;
    startInLine(asked, when, truth);
    if (!kindOf(move.gesture).fromStroke) stop.start = end();
    const double room = std::max(shortestHold, when.stops - seconds(end()));
    moveInLine(asked, room, truth);
    if (!sounding) return;  // died
    stop.stopped = asked.picked && seconds(end()) - seconds(stroke) < 1e-9 ? stroke : end();
    const bool hint = move.gesture == Gesture::hint;
    if (hint) {  // it is known by its top
        truth.arrival = Seconds(seconds(end()));
        truth.landingError = truth.firstStopError = Cents(100.0 * (pitch - move.to.value));
        travel(move.from.value + 0.01 * normal(0.0, config.skill.setupSpread.value),
               std::min(hintTakes, hintShare * room), 1.0);
    }
    const double gap = when.legato ? 0.0 : config.skill.mostGap.value;
    const double until = std::max(seconds(end()) + shortestHold, when.stops - gap);
    if (const double from = seconds(end()) + std::min(vibratoAfter, hintShare * room);
        asked.vibrato && until - from > 2.0 / config.skill.vibratoRate.value) {
        waitUntil(from);
        stop.vibrato = end();
        const bool bent = pitch > stoppedPitch + 0.3;
        vibrato(until - from, bent);
        stop.vibratoEnd = end();
    }
    waitUntil(until);
    stop.holdEnd = end();
    if (!hint) measure(truth, stop);
    if (!move.with.empty()) goInStep(move, begins, truth);
}

// Up to the note that the move starts on; of one that goes on it sounds already, unless it has died.
void SimulatedHand::startInLine(const LineMove& asked, const InTime& when, MoveTruth& truth) {
    const Move& move = asked.move;
    const GestureKind& kind = kindOf(move.gesture);
    const bool strikes = asked.picked || !sounding;
    const double before = pitch;
    chooseString(move);
    const bool wrong = stays(kind) && chance(0.5 * config.skill.wrongFretChance) && fret >= 2.0 && strikes;
    if (when.wrongString && strikes) {
        truth.played = Played::wrongFret;
        string += string > 0 ? -1 : 1;
        pitch = stoppedPitch = openPitch(string) + fret;
        strike(std::max(0.05, normal(config.skill.loudness, config.skill.loudnessSpread)));
        truth.onset = Seconds(seconds(stroke));
        return;
    }
    truth.onset = Seconds(seconds(end()));
    if (!strikes) {
        pitch = before;
        return;
    }
    if (wrong) {
        truth.played = Played::wrongFret;
        fret += chance(0.5) ? 1.0 : -1.0;
        stoppedPitch = openPitch(string) + fret;
        pitch = stoppedPitch;
    } else if (kind.fromStroke) {
        pitch = playedTarget(move, {}, truth.played);
    } else {
        pitch = openPitch(string) - config.guitar.openStrings[static_cast<std::size_t>(string)].value + move.from.value
                + 0.01 * normal(config.skill.startBias.value, config.skill.setupSpread.value);
    }
    strike(std::max(0.05, normal(config.skill.loudness, config.skill.loudnessSpread)));
    truth.onset = Seconds(seconds(stroke));
    if (kind.fromStroke) return;
    const double start = std::max(0.15, normal(config.skill.start.value, config.skill.startSpread.value));
    if (kind.overFrets)
        hold(when.lingers ? config.skill.habits.lingersFor.value : std::min(graceNote, 0.5 * (when.stops - when.sets)));
    else if (move.gesture != Gesture::hint && move.gesture != Gesture::release)
        hold(std::min(start, startShare * (when.stops - when.sets)));
}

// Down until the string has died, as far as the frets and the time go.
void SimulatedHand::fall(double room, MoveTruth& truth) {
    const int from = static_cast<int>(std::lround(fret));
    const double share = std::clamp(room, 0.2, 0.6);
    const int frets = std::clamp(static_cast<int>(uniform(4.0, 8.0)), 1, std::max(1, from - config.guitar.capo - 1));
    pending.damp = static_cast<float>(share);
    truth.linger = Seconds(seconds(end()) - truth.onset.value);
    slide(from - frets, share / frets, 0.0);
    die(0.03);
}

void SimulatedHand::moveInLine(const LineMove& asked, double room, MoveTruth& truth) {
    const Move& move = asked.move;
    const double rise = std::max(0.08, normal(config.skill.rise.value, config.skill.riseSpread.value));
    switch (move.gesture) {
        case Gesture::bend: bendMove(move, {.rise = Seconds(std::min(rise, wayShare * room))}, truth); break;
        case Gesture::release: bendMove(move, {.rise = Seconds(travelTime(asked))}, truth); break;
        case Gesture::slide: slideMove(move, {.rise = Seconds(travelTime(asked))}, truth); break;
        case Gesture::hint: travel(move.to.value, std::min(hintTakes, hintShare * room), 1.0); break;
        case Gesture::slip: {
            const int home = static_cast<int>(std::lround(fret));
            slide(home + 1, slipFret, 0.0);
            slide(home, slipFret, stopError(move, {}));
            break;
        }
        case Gesture::fall: return fall(room, truth);
        case Gesture::hammerOn:
        case Gesture::pullOff:
            stoppedPitch += move.width();
            fret += move.width();
            travel(playedTarget(move, {}, truth.played), hammerTakes, 1.0);
            break;
        default:  // the pitch is there with the stroke
            if (truth.played == Played::died) {
                hold(uniform(0.03, 0.08));
                die(0.02);
            }
    }
}

}  // namespace landfall
