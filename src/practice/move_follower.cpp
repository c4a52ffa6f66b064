#include "src/practice/move_follower.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

#include "dsp/statistics.h"
#include "src/practice/recording_layout.h"
#include "src/practice/verdict.h"

namespace landfall {

namespace {

bool contains(const std::vector<std::size_t>& list, std::size_t value) {
    return std::find(list.begin(), list.end(), value) != list.end();
}

int frettedNote(const Move& move) { return static_cast<int>(std::lround(move.frettedNote().value)); }

}  // namespace

void MoveFollower::setMoves(std::vector<Move> asked, MoveOrder how) {
    finder.moves = std::move(asked);
    order = how;
    next = 0;
    current = {};
    current.struck = notes.note().has_value();  // what sounds now was not played for these moves
    heard.clear();
    lastTry = notes.now();
}

void MoveFollower::reset() {
    notes.reset();
    current = {};
    next = 0;
    before.reset();
    beforeMatched = false;
    heard.clear();
    lastTry = nextUntil = 0.0;
    lastEnded = 0;
    again = false;
    finder.targets.forget();
    slips.clear();
}

std::optional<Cents> MoveFollower::fromTarget(Hertz pitch) const {
    if (next >= finder.moves.size()) return std::nullopt;
    return Cents(100.0 * pitchOf(pitch, config.notes.a4).value - finder.targets.of(finder.moves[next]).cents);
}

std::optional<Move> MoveFollower::lackingTarget() const {
    const auto lacks = [this](const Move& move) { return finder.targets.lacks(move); };
    const auto found = std::find_if(finder.moves.begin(), finder.moves.end(), lacks);
    return found != finder.moves.end() ? std::optional(*found) : std::nullopt;
}

// A stroke may begin the try's next step, or a new try.
std::vector<std::size_t> MoveFollower::candidates(const Note& of) const {
    if (current.locked) return {*current.locked};
    std::vector<std::size_t> list;
    if (next > 0 && next < finder.moves.size() && of.onset < nextUntil) list.push_back(next);
    if (!finder.moves.empty()) list.push_back(0);
    return list;
}

// The note before, unless it was a try.
const Note* MoveFollower::other() const { return before && !beforeMatched ? &*before : nullptr; }

std::vector<FoundStep> MoveFollower::match(const Note& of, const JudgeConfig& judging) const {
    if (of.points().size() < 4 || finder.moves.empty()) return {};
    const bool run = finder.isOfRun(of, other());
    std::vector<FoundStep> tried;
    for (const std::size_t k : candidates(of)) {
        std::vector<FoundStep> steps;
        if (finder.startsOn(of, k)) {
            if (!run) steps = finder.chain(of, k, 0, judging);
        } else if (const auto joined = other() ? slidInto(*other(), of, finder.moves[k]) : std::nullopt) {
            steps = finder.chain(*joined, k, 0, judging);
        } else {
            steps = finder.second(of, k, other());
        }
        // A try's later step, on a stroke of its own, belongs to the try before it.
        if (k > 0)
            for (FoundStep& step : steps) step.landing.tryNumber = lastEnded;
        if (!steps.empty() && steps.front().landed()) return steps;
        if (!steps.empty() && tried.empty()) tried = std::move(steps);
    }
    return tried;
}

void MoveFollower::strokeHeard(const Onset& stroke, int note) {
    events.emplace_back(PickStroke{stroke.available, stroke, note});
}

void MoveFollower::settled(const PitchFrame& frame) {
    notes.settled(frame);
    if (order == MoveOrder::everyTry && !finder.moves.empty() && notes.now() - lastTry >= config.noTry) {
        lastTry = notes.now();
        events.emplace_back(NoTry{frame.available});
    }
}

// Whether the string has just been damped.
bool MoveFollower::fades(const Note& of) const {
    double loudest = -140.0;
    for (auto point = of.points().rbegin();
         point != of.points().rend() && point->time > of.points().back().time - config.earlyStop; ++point)
        loudest = std::max(loudest, point->level);
    return of.points().back().level < loudest - config.earlyFades;
}

// Whether the pitch has kept flat to the last point, for as long as a provisional word needs.
bool MoveFollower::hasStopped(const Note& of) const {
    const double end = of.points().back().time, third = config.earlyStop / 3.0;
    std::array<std::optional<double>, 3> levels;
    double noise = 0.0;
    for (std::size_t i = 0; i < levels.size(); ++i)
        levels[i] = medianCents(of.points(), end - third * (3.0 - static_cast<double>(i)),
                                end - third * (2.0 - static_cast<double>(i)));
    for (auto point = of.points().rbegin(); point != of.points().rend() && point->time > end - config.earlyStop;
         ++point)
        noise = std::max(noise, std::min(point->sd, 4.0));
    if (!levels[0] || !levels[1] || !levels[2]) return false;
    const auto [low, high] = std::minmax({*levels[0], *levels[1], *levels[2]});
    const double rose = *levels[1] - *levels[0], fell = *levels[1] - *levels[2];
    const bool turned = rose * fell > 0.0 && std::abs(fell) > config.earlyTurned * std::max(1.0, noise);
    return high - low <= config.earlyFlat + noise && !turned;
}

void MoveFollower::earlyGrew(const PitchFrame& frame) {
    if (order == MoveOrder::once || current.struck) return;
    const std::optional<Note>&note = notes.note(), &early = notes.early();
    if (note && std::abs(note->onset - early->onset) > 0.2) return;  // the settled stream is still with the note before
    JudgeConfig judging = config.find.judge;
    const bool stopped = frame.centre.value - early->onset < config.earlyEvery && hasStopped(*early);
    judging.stopLeastSounding = stopped ? config.earlyStop : config.earlyUneven;
    if ((!stopped && early->points().size() % 4 != 0) || fades(*early)) return;
    for (const FoundStep& step : match(*early, judging)) {
        if (!step.landed() || step.landing.correction || contains(current.provisional, step.move)
            || contains(current.final, step.move))
            continue;
        const double stayed = frame.centre.value - step.landing.landingTime->value;
        if (stayed < (step.landing.verdict == Verdict::wrongFret ? config.earlyElsewhere : config.earlySaid)) continue;
        const auto now = medianCents(early->points(), frame.centre.value - config.earlyStop / 3.0, frame.centre.value);
        if (!now
            || std::abs(*now - finder.targets.of(finder.moves[step.move]).cents
                        - step.landing.landingError.value_or(Cents(0.0)).value)
                   > config.earlyLeaves)
            continue;
        if (note && comesSlowly(note->points(), frame.centre.value, step.landing.move.direction(), config.find.judge))
            continue;
        current.provisional.push_back(step.move);
        events.emplace_back(ProvisionalLanding{frame.available, step.landing});
    }
}

void MoveFollower::noteGrew() {
    if (current.struck || order == MoveOrder::once) return;
    const Note& note = *notes.note();
    const double clock = notes.now();
    const std::vector<FoundStep> steps = match(note, config.find.judge);
    if (current.number == 0 && !finder.moves.empty()) {
        for (const std::size_t k : candidates(note)) {
            if ((!finder.startsOn(note, k) && !finder.secondStartsOn(note, k)) || finder.isOfRun(note, other()))
                continue;
            current.number = k > 0 ? lastEnded : note.number;
            lastTry = clock;
            events.emplace_back(TryBegan{Seconds(clock), Seconds(note.onset), note.number, current.number,
                                         static_cast<int>(k) + 1, current.again});
            break;
        }
    }
    if (current.number == 0 && !steps.empty()) current.number = steps.front().landing.tryNumber;
    for (const FoundStep& step : steps) {
        if (!step.landed()) break;
        const double arrival = step.landing.landingTime->value;
        const double wait = step.landing.vibrato ? config.find.judge.vibratoTo : config.find.judge.landingTo;
        if (!contains(current.final, step.move) && clock >= arrival + wait) {
            current.final.push_back(step.move);
            current.locked = steps.front().move;
            current.number = steps.front().landing.tryNumber;
            events.emplace_back(FinalLanding{Seconds(clock), step.landing});
        }
        if (contains(current.final, step.move) && !contains(current.ended, step.move)
            && clock >= arrival + config.find.judge.tryMost) {
            current.ended.push_back(step.move);
            ended(step);
        }
    }
}

// One note of many, unless something final was said of it: too short and landed nowhere or elsewhere, or cut by another
// stroke before it landed, or just after.
bool MoveFollower::isOrnament(const Note& over, const std::vector<FoundStep>& steps) const {
    if (steps.empty() || current.locked) return false;
    const Landing& first = steps.front().landing;
    if (*over.end - over.onset < config.tryLeast
        && (!steps.front().landed() || first.verdict == Verdict::otherInterval))
        return true;
    return over.cutByStroke
           && (!steps.front().landed() || *over.end - first.landingTime->value < config.find.runOfNotes);
}

// A note that stands alone and began elsewhere than asked: the player waits for a word.
std::string MoveFollower::whyNone(const Note& over) const {
    const bool alone = over.struck && !over.cutByStroke && *over.end - over.onset >= config.aloneLeast
                       && (!before || over.onset - before->onset >= config.aloneLeast);
    if (!alone) return {};
    const auto pitch = over.start();
    const auto steps = candidates(over);
    if (!pitch || steps.empty()
        || std::any_of(steps.begin(), steps.end(), [&](std::size_t k) { return finder.startsOn(over, k); }))
        return {};
    return notBegunSentence(finder.moves[steps.front()], *pitch);
}

void MoveFollower::noteBegan() {
    current = {};
    current.again = again;
}

void MoveFollower::noteEnded(Note over, bool rings) {
    const Seconds clock(notes.now());
    if (rings && order == MoveOrder::everyTry && !finder.moves.empty() && over.struck
        && (!before || over.onset - before->onset >= config.aloneLeast))
        events.emplace_back(Noodling{clock, over.number, "No clear pitch: do two strings ring?"});
    const Try said = std::exchange(current, {});
    if (order == MoveOrder::once) {
        if (!said.struck && over.points().size() >= 4) heard.push_back(std::move(over));
        return;
    }
    std::vector<FoundStep> steps;
    if (!said.struck) {
        current = said;
        steps = match(over, config.find.judge);
        if (isOrnament(over, steps)) steps.clear();
        current = {};
    }
    const auto lacked = lackingTarget();
    if (steps.empty()) finder.targets.learnFret(over);
    const bool taught = lacked && !finder.targets.lacks(*lacked);
    if (!said.struck) {
        for (const FoundStep& step : steps) {
            if (step.landed() && !contains(said.final, step.move))
                events.emplace_back(FinalLanding{clock, step.landing});
            if (!contains(said.ended, step.move)) ended(step);
        }
        if (!steps.empty()) {
            const FoundStep& last = steps.back();
            next = last.landed() && last.move + 1 < finder.moves.size() ? last.move + 1 : 0;
            nextUntil = *over.end + config.nextStepWithin;
        } else if (over.points().size() >= 20) {
            // What was held because it was asked for is no miss.
            events.emplace_back(Noodling{clock, over.number, taught ? "" : whyNone(over)});
        }
    }
    beforeMatched = !steps.empty();
    again = over.cutByStroke && said.number > 0 && said.ended.empty() && !said.struck && !beforeMatched;
    before = std::move(over);
}

void MoveFollower::ended(const FoundStep& step) {
    events.emplace_back(TryEnded{Seconds(notes.now()), step.landing});
    lastEnded = step.landing.tryNumber;
    lastTry = notes.now();
    learn(step);
}

void MoveFollower::learn(const FoundStep& step) {
    const Move& move = step.landing.move;
    if (!step.landing.startError || (move.gesture != Gesture::bend && move.gesture != Gesture::slide)) return;
    const double error = step.landing.startError->value;
    if (std::abs(error) > config.find.judge.startTolerance) return;
    finder.targets.learnStart(move, error);
    auto& row = slips[move.place ? move.place->string : -frettedNote(move)];
    if (std::abs(error) <= config.slipped || (!row.empty() && (row.back() > 0) != (error > 0))) row.clear();
    if (std::abs(error) > config.slipped) row.push_back(error);
    if (row.size() < 3) return;
    events.emplace_back(StringSlipped{Seconds(notes.now()),
                                      move.place ? std::optional(move.place->string) : std::nullopt,
                                      Cents(median({row.begin(), row.end()}))});
    row.clear();
}

void MoveFollower::finish() {
    notes.finish();
    if (order == MoveOrder::once) align();
}

// All moves over all notes, once the input is over.
void MoveFollower::align() {
    const RecordingLayout layout(heard, finder);
    const auto& places = layout.places();
    const Seconds clock(notes.now());
    bool matched = false;
    for (std::size_t p = 0, k = 0; p < places.size();) {
        const RecordingLayout::Choice choice = layout.choice(p, k, matched);
        const RecordingLayout::Place& place = places[p];
        if (choice.steps > 0) {
            auto steps = layout.steps(place, choice.move, matched);  // again: targets have been learned meanwhile
            for (std::size_t i = 0; i < choice.steps && i < steps.size(); ++i) {
                const Landing& landing = steps[i].landing;
                events.emplace_back(
                    TryBegan{clock, landing.onset, landing.note, landing.tryNumber, landing.moveNumber, false});
                if (steps[i].landed()) events.emplace_back(FinalLanding{clock, landing});
                ended(steps[i]);
            }
            matched = true;
            k = choice.move + choice.steps;
        } else if (place.stretch == 0) {
            matched = false;
        }
        const bool over = choice.nextPlace >= places.size() || places[choice.nextPlace].note != place.note;
        if (over && !matched) {
            const Note& note = heard[place.note];
            finder.targets.learnFret(note);
            if (note.points().size() >= 20) events.emplace_back(Noodling{clock, note.number});
        }
        p = choice.nextPlace;
    }
    next = finder.moves.size();
    heard.clear();
}

std::optional<int> MoveFollower::discardLast() {
    const bool sounds = notes.note() && current.number > 0 && !current.struck && current.ended.empty();
    const int striking = sounds ? current.number : lastEnded;
    if (striking == 0) return std::nullopt;
    if (lastEnded == striking) lastEnded = 0;
    if (notes.note() && current.number == striking) current.struck = true;  // nor what is still to come of it
    events.emplace_back(TryStruck{Seconds(notes.now()), striking});
    next = 0;
    return striking;
}

}  // namespace landfall
