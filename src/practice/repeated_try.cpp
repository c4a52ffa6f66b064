#include "src/practice/repeated_try.h"

#include <algorithm>
#include <cmath>
#include <utility>

#include "src/practice/verdict.h"

namespace landfall {

namespace {

bool contains(const std::vector<std::size_t>& list, std::size_t value) {
    return std::find(list.begin(), list.end(), value) != list.end();
}

bool contains(const std::vector<FoundStep>& list, std::size_t move) {
    return std::ranges::find(list, move, &FoundStep::move) != list.end();
}

// Whether a note came to stay a fret on the asked move's way.
bool hasMoved(const Note& over, const Move& asked, const JudgeConfig& judging) {
    return std::ranges::any_of(over.stretches(), [&](const Stretch& stretch) {
        return stretch.stays() && stretch.length() >= judging.stopLeast
               && asked.direction() * (stretch.level - 100.0 * asked.from.value) > 100.0 - judging.startTolerance;
    });
}

// What was told as final stands: a note's end, damped or in a room, may be no landing any more.
void keepFinal(std::vector<FoundStep>& steps, const std::vector<FoundStep>& final) {
    for (const FoundStep& told : final) {
        const auto found = std::ranges::find(steps, told.move, &FoundStep::move);
        if (found == steps.end()) steps.push_back(told);
        else if (!found->landed()) *found = told;
    }
}

}  // namespace

void RepeatedTry::begin() {
    expected = 0;
    current = {};
    current.struck = around.notes.note().has_value();
}

// A stroke may begin the try's next step, or a new try.
std::vector<std::size_t> RepeatedTry::candidates(const Note& of) const {
    if (current.locked) return {*current.locked};
    std::vector<std::size_t> list;
    if (expected > 0 && expected < moves().size() && of.onset < expectedUntil) list.push_back(expected);
    if (!moves().empty()) list.push_back(0);
    return list;
}

// The note before, unless it was a try.
const Note* RepeatedTry::other() const { return before && !beforeMatched ? &*before : nullptr; }

std::vector<FoundStep> RepeatedTry::match(const Note& of, const JudgeConfig& judging) const {
    if (moves().empty()) return {};
    const MoveFinder& finder = around.finder;
    const bool run = finder.isOfRun(of, other());
    std::vector<FoundStep> tried;
    for (const std::size_t k : candidates(of)) {
        std::vector<FoundStep> steps;
        if (finder.startsOn(of, k)) {
            if (!run) steps = finder.chain(of, k, 0, judging);
        } else if (const Note* joined = other() ? finder.slidInto(*other(), of, k) : nullptr) {
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

void RepeatedTry::earlyGrew(const PitchFrame& frame) {
    if (current.struck) return;
    const std::optional<Note>&note = around.notes.note(), &early = around.notes.early();
    if (note && std::abs(note->onset - early->onset) > 0.2) return;  // the settled stream is still with the note before
    const JudgeConfig& judging = around.finder.judging();
    const auto look = firstLook(*early, judging, config.firstWord);
    if (!look) return;
    for (const FoundStep& step : match(*early, *look)) {
        if (contains(current.provisional, step.move) || contains(current.final, step.move)
            || !maySay(step.landing, around.finder.targets.of(moves()[step.move]).cents, *early,
                       note ? &*note : nullptr, judging, config.firstWord))
            continue;
        current.provisional.push_back(step.move);
        tell(ProvisionalLanding{frame.available, step.landing});
    }
}

// The note that sounds begins a try as soon as it is known to begin on the right pitch.
void RepeatedTry::beginTry(const Note& note, const std::vector<FoundStep>& steps) {
    for (const std::size_t k : candidates(note)) {
        if ((!around.finder.startsOn(note, k) && !around.finder.struckBeside(note, k))
            || around.finder.isOfRun(note, other()))
            continue;
        current.number = k > 0 ? lastEnded : note.number;
        tell(TryBegan{now(), Seconds(note.onset), note.number, current.number, static_cast<int>(k) + 1, current.again});
        return;
    }
    if (!steps.empty()) current.number = steps.front().landing.tryNumber;
}

void RepeatedTry::noteGrew() {
    if (current.struck) return;
    const Note& note = *around.notes.note();
    const JudgeConfig& judging = around.finder.judging();
    std::vector<FoundStep> steps = match(note, judging);
    around.finder.lookBeside(steps, now().value, false);
    if (current.number == 0) beginTry(note, steps);
    if (steps.empty()) wrongStart(note);
    for (const FoundStep& step : steps) {
        if (!step.landed()) break;
        const double arrival = step.landing.landingTime->value, clock = now().value;
        const double wait = step.landing.vibrato ? judging.vibratoTo : judging.landingTo;
        if (!contains(current.final, step.move) && clock >= arrival + wait
            && !comesSlowly(note.points(), clock, step.landing.move.direction(), judging)) {
            current.final.push_back(step);
            current.locked = steps.front().move;
            current.number = steps.front().landing.tryNumber;
            tell(FinalLanding{now(), step.landing});
        }
        if (contains(current.final, step.move) && !contains(current.ended, step.move)
            && clock >= arrival + judging.tryMost) {
            current.ended.push_back(step.move);
            ended(step);
        }
    }
}

// One note of many, unless something final was said of it: too short and landed nowhere or elsewhere, or cut by another
// stroke before it landed, or just after.
bool RepeatedTry::isOrnament(const Note& over, const std::vector<FoundStep>& steps) const {
    if (steps.empty() || current.locked) return false;
    const FoundStep& first = steps.front();
    if (*over.end - over.onset < config.tryLeast
        && (!first.landed() || first.landing.verdict == Verdict::otherInterval))
        return true;
    return over.cutByStroke
           && (!first.landed() || *over.end - first.landing.landingTime->value < around.finder.runOfNotes());
}

// A string that is struck alone elsewhere than asked is told as soon as that is certain, and then not otherwise.
void RepeatedTry::wrongStart(const Note& note) {
    const double sounded = now().value - note.onset;
    const bool alone =
        note.struck && sounded >= config.aloneLeast && (!before || note.onset - before->onset >= config.aloneLeast);
    if (!alone || current.number > 0 || !current.wrong.empty()) return;
    const auto pitch = note.start();
    const auto steps = candidates(note);
    const auto fits = [&](std::size_t k) {
        return around.finder.startsOn(note, k) || around.finder.struckBeside(note, k).has_value();
    };
    if (!pitch || steps.empty() || std::any_of(steps.begin(), steps.end(), fits)) return;
    // The target's own fret, held plainly, was asked for.
    const auto lacked = around.finder.lackingTarget();
    const double near = around.finder.judging().startTolerance;
    if (lacked && std::abs(*pitch - 100.0 * lacked->to.value) <= near
        && std::abs(note.points().back().cents - *pitch) <= near)
        return;
    current.wrong = notBegunSentence(moves()[steps.front()], *pitch);
    tell(WrongStart{now(), note.number, current.wrong});
}

std::string RepeatedTry::noPitch(const Note& over) const {
    for (const std::size_t k : candidates(over))
        if (const auto other = around.finder.struckBeside(over, k)) return "No clear pitch. " + besideSentence(*other);
    return "No clear pitch. Is another string ringing?";
}

// A note that stands alone and began elsewhere than asked: the player waits for a word.
std::string RepeatedTry::whyNone(const Note& over) const {
    const bool alone = over.struck && !over.cutByStroke && *over.end - over.onset >= config.aloneLeast
                       && (!before || over.onset - before->onset >= config.aloneLeast);
    if (!alone) return {};
    const auto pitch = over.start();
    const auto steps = candidates(over);
    if (!pitch || steps.empty()) return {};
    if (std::any_of(steps.begin(), steps.end(), [&](std::size_t k) { return around.finder.startsOn(over, k); })) {
        const Move& asked = moves()[steps.front()];
        return hasMoved(over, asked, around.finder.judging()) ? notClearSentence(asked) : notMovedSentence(asked);
    }
    if (const auto other = around.finder.struckBeside(over, steps.front())) return besideSentence(*other);
    return notBegunSentence(moves()[steps.front()], *pitch);
}

void RepeatedTry::noteBegan() {
    current = {};
    current.again = again;
}

void RepeatedTry::noteEnded(Note over, bool rings) {
    std::vector<FoundStep> steps;
    if (!current.struck) steps = match(over, around.finder.judging());
    around.finder.lookBeside(steps, around.sound.end(), true);
    if (rings && steps.empty() && !moves().empty() && over.struck
        && (!before || over.onset - before->onset >= config.aloneLeast))
        tell(Noodling{now(), over.number, noPitch(over)});
    keepFinal(steps, current.final);
    if (isOrnament(over, steps)) steps.clear();
    const Try said = std::exchange(current, {});
    Targets& targets = around.finder.targets;
    const auto lacked = around.finder.lackingTarget();
    if (steps.empty()) targets.learnFret(over);
    if (!said.struck) endTry(over, said, steps, lacked && !targets.lacks(*lacked));
    beforeMatched = !steps.empty();
    again = over.cutByStroke && said.number > 0 && said.ended.empty() && !said.struck && !beforeMatched;
    before = std::move(over);
}

// What is still to be said of a note that is over; `taught`: it was held because it was asked for, and is no miss.
void RepeatedTry::endTry(const Note& over, const Try& said, const std::vector<FoundStep>& steps, bool taught) {
    for (const FoundStep& step : steps) {
        if (step.landed() && !contains(said.final, step.move)) tell(FinalLanding{now(), step.landing});
        if (!contains(said.ended, step.move)) ended(step);
    }
    if (!steps.empty()) {
        const FoundStep& last = steps.back();
        expected = last.landed() && last.move + 1 < moves().size() ? last.move + 1 : 0;
        expectedUntil = *over.end + config.nextStepWithin;
    } else if (over.points().size() >= toldLeast) {
        tell(Noodling{now(), over.number, !said.wrong.empty() ? said.wrong : taught ? "" : whyNone(over)});
    }
}

std::optional<int> RepeatedTry::discardLast() {
    const bool sounds = around.notes.note().has_value();
    const bool inProgress = sounds && current.number > 0 && !current.struck && current.ended.empty();
    const auto struck = strike(inProgress ? current.number : lastEnded);
    if (struck) expected = 0;
    if (struck && sounds && current.number == *struck) current.struck = true;  // nor what is still to come of it
    return struck;
}

}  // namespace landfall
