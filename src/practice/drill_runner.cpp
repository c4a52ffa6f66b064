#include "src/practice/drill_runner.h"

#include <algorithm>
#include <cmath>

#include <fmt/core.h>

#include "dsp/statistics.h"
#include "src/music/chord_move.h"
#include "src/practice/string_check.h"
#include "src/practice/tally.h"
#include "src/practice/words.h"

namespace landfall {

namespace {

constexpr double openTryFor = 10.0;  // s to the next step of a try before it is over
constexpr double slipCents = 6.0;    // three starts in a row further off than this: the string has slipped
constexpr std::size_t slipStarts = 3;

std::string promptFor(const Guitar& guitar, const std::vector<Move>& moves) {
    std::string text;
    for (std::size_t i = 0; i < moves.size(); ++i) {
        const Move& move = moves[i];
        if (i == 0 && move.with.empty()) text = placeName(guitar, *move.place) + " · ";
        if (i > 0) text += ", ";
        if (!move.with.empty()) {
            text += shapeWords(guitar, move);
            continue;
        }
        if (i > 0 && move.place->fret != moves[i - 1].place->fret) text += fmt::format("fret {} ", move.place->fret);
        text += filledIn(kindOf(move.gesture).asked, move.gesture, move.width(), move.targetFret.value_or(0));
    }
    return text;
}

}  // namespace

Result<DrillRunner> DrillRunner::make(DrillRunnerConfig config, Seconds now) {
    DrillRunner runner(std::move(config), now);
    const DrillRunnerConfig& given = runner.config;
    FittedPlaces fitted = placesOn(given.drill, given.guitar);
    runner.leftOut = std::move(fitted.missing);
    for (const NeckPlace place : fitted.places) {
        const auto heavy =
            given.heavyAsked ? std::nullopt : heavyReason(given.drill, given.guitar, place, given.limits);
        const auto enough = sittingReason(given.drill, given.guitar, place, given.load, given.firstMonth, given.limits);
        if (heavy || enough) {
            const std::string& reason = heavy ? *heavy : *enough;
            if (std::find(runner.leftOut.begin(), runner.leftOut.end(), reason) == runner.leftOut.end())
                runner.leftOut.push_back(reason);
        } else {
            runner.setPlaces.insert(runner.setPlaces.end(), static_cast<std::size_t>(given.drill.sets), place);
        }
    }
    if (runner.setPlaces.empty())
        return Error{Error::Code::unsupported,
                     runner.leftOut.empty()
                         ? fmt::format("'{}' has no place on this guitar", given.drill.name)
                         : fmt::format("'{}' cannot be played now: {}", given.drill.name, runner.leftOut.front())};
    runner.current.sets = static_cast<int>(runner.setPlaces.size());
    runner.current.attempts = given.drill.tries;
    runner.prepare();
    const Seconds warmUp = warmUpDue(given.drill, given.load, given.limits);
    const Seconds minuteOff = minuteOffStillDue(given.drill, given.load, Seconds(0.0), given.limits);
    if (warmUp.value > 0.0) {
        runner.current.phase = DrillPhase::warmUp;
        runner.current.left = warmUp;
        runner.current.message = "Easy fretting first, then half steps.";
    } else if (minuteOff.value > 0.0) {
        runner.beginRest(minuteOff);
    } else {
        runner.ask(now);
    }
    return runner;
}

// Sets what the next try plays, without asking for it yet.
void DrillRunner::prepare() {
    current.place = setPlaces[static_cast<std::size_t>(current.set - 1)];
    current.moves = movesAt(config.drill, config.guitar, current.place).value();  // fitted in make
    current.prompt = promptFor(config.guitar, current.moves);
    current.subject = config.drill.subject;
    current.guided = static_cast<int>(played.size()) < config.drill.guidedTries;
    current.byEar = config.drill.lastSetByEar && current.sets > 1 && current.set == current.sets && !current.guided;
}

void DrillRunner::ask(Seconds now) {
    lastEvent = now;
    current.left = Seconds(0.0);
    current.message.clear();
    if (drillTime >= config.limits.drill)
        return finish(fmt::format("{:g} minutes of one drill are enough", config.limits.drill.value / 60.0));
    if (const auto enough =
            sittingReason(config.drill, config.guitar, current.place, config.load, config.firstMonth, config.limits))
        return finish(*enough);
    current.phase = DrillPhase::asking;
    prepare();
}

void DrillRunner::beginRest(Seconds length) {
    current.phase = DrillPhase::resting;
    current.left = length;
    current.message.clear();
    restTaken = Seconds(0.0);
    current.restStays = minuteOffStillDue(config.drill, config.load, restTaken, config.limits).value > 0.0;
}

void DrillRunner::landed(const Landing& landing, Seconds now) {
    tick(now);
    if (current.phase != DrillPhase::asking && current.phase != DrillPhase::stringSlipped) return;
    lastEvent = now;
    const std::size_t steps = current.moves.size();
    const std::size_t step = static_cast<std::size_t>(std::max(0, landing.moveNumber - 1)) % steps;
    if (current.phase == DrillPhase::stringSlipped) {
        if (step != 0 || !startsInTune(landing)) return;
        current.phase = DrillPhase::asking;  // in tune again
        current.message.clear();
    }
    if (open && step < open->steps) {
        closeTry(now);  // begun again before its last step
        if (current.phase != DrillPhase::asking) return;
    }
    if (!open) {
        if (step != 0) return;  // the rest of a try that is over already
        open = Try{.set = current.set, .number = landing.tryNumber};
    }
    if (!isCounted(landing)) {  // but the hand has played it
        addTry(config.load, config.drill, config.guitar, current.place);
        open.reset();
        return ask(now);
    }
    if (step == 0 && slipped(landing)) {
        addTry(config.load, config.drill, config.guitar, current.place);
        open.reset();
        current.phase = DrillPhase::stringSlipped;
        return;
    }
    open->steps = step + 1;
    if (isLost(landing) || step + 1 == steps) closeTry(now);
}

void DrillRunner::closeTry(Seconds now) {
    addTry(config.load, config.drill, config.guitar, current.place);
    played.push_back(*open);
    open.reset();
    if (current.attempt < current.attempts) {
        ++current.attempt;
        ask(now);
    } else {
        endSet(now);
    }
}

void DrillRunner::endSet(Seconds now) {
    lastEvent = now;
    ++config.load.setsSinceMinuteOff;
    std::string why;
    while (current.set < current.sets) {
        ++current.set;
        current.attempt = 1;
        prepare();
        const auto enough =
            sittingReason(config.drill, config.guitar, current.place, config.load, config.firstMonth, config.limits);
        if (!enough) return beginRest(restBefore(config.drill, config.load, config.limits));
        why = *enough;
    }
    finish(why);
}

void DrillRunner::finish(std::string why) {
    current.phase = DrillPhase::done;
    current.left = Seconds(0.0);
    current.message = std::move(why);
    open.reset();
}

void DrillRunner::tick(Seconds now) {
    const Seconds step = std::max(Seconds(0.0), now - clock);
    clock = std::max(clock, now);
    const bool inHand = current.phase == DrillPhase::asking && now - lastEvent <= config.limits.handAway;
    const bool counting = current.phase == DrillPhase::warmUp || current.phase == DrillPhase::resting || inHand;
    if (counting) {
        config.load.played = config.load.played + step;
        config.load.sinceMinuteOff = config.load.sinceMinuteOff + step;
        if (current.phase != DrillPhase::warmUp) drillTime = drillTime + step;
    }
    switch (current.phase) {
        case DrillPhase::warmUp:
            current.left = current.left - step;
            if (current.left.value <= 0.0) ask(now);
            break;
        case DrillPhase::resting:
            current.left = current.left - step;
            restTaken = restTaken + step;
            current.restStays = minuteOffStillDue(config.drill, config.load, restTaken, config.limits).value > 0.0;
            if (current.left.value <= 0.0) {
                addRest(config.load, restTaken, config.limits);
                ask(now);
            }
            break;
        case DrillPhase::asking:
            if (open && (now - lastEvent).value > openTryFor) closeTry(now);
            break;
        case DrillPhase::stringSlipped:
        case DrillPhase::done: break;
    }
}

void DrillRunner::next(Seconds now) {
    tick(now);
    switch (current.phase) {
        case DrillPhase::warmUp: ask(now); break;
        case DrillPhase::resting:
            if (current.restStays) {
                current.message = "This minute off is for your hand, so it cannot be skipped.";
            } else {
                addRest(config.load, restTaken, config.limits);
                ask(now);
            }
            break;
        case DrillPhase::asking:
            if (open) closeTry(now);
            if (current.phase == DrillPhase::asking) endSet(now);
            break;
        case DrillPhase::stringSlipped:
            accepted[current.place.string] = slipOffset;
            ask(now);
            break;
        case DrillPhase::done: break;
    }
}

bool DrillRunner::playedLast(int tryNumber) const {
    const Try* last = open ? &*open : played.empty() ? nullptr : &played.back();
    return last && last->number == tryNumber;
}

void DrillRunner::discard() {
    if (open) {
        open.reset();
        return;
    }
    if (played.empty()) return;
    const int set = played.back().set;
    played.pop_back();
    if (current.phase == DrillPhase::asking && set == current.set && current.attempt > 1) {
        --current.attempt;
    } else if (current.phase == DrillPhase::resting && set == current.set - 1) {
        current.set = set;
        current.attempt = current.attempts;
        current.phase = DrillPhase::asking;
        current.left = Seconds(0.0);
        --config.load.setsSinceMinuteOff;
        lastEvent = clock;
    }
    prepare();
}

void DrillRunner::stop() {
    if (current.phase != DrillPhase::done) finish("");
}

bool DrillRunner::startsInTune(const Landing& landing) {
    return landing.startError && abs(*landing.startError).value <= slipCents;
}

// Three starts in a row off to the same side, and not where the player chose to go on.
bool DrillRunner::slipped(const Landing& first) {
    // A bent start says how the hand bends, not how the string is tuned; one that moves at the stroke says nothing.
    if (!first.startError || first.move.struckNote() != first.move.frettedNote()) return false;
    const int string = current.place.string;
    std::vector<double>& off = starts[string];
    const double start = first.startError->value;
    const double known = accepted.count(string) > 0 ? accepted[string].value : 0.0;
    const bool far = std::abs(start) > slipCents && std::abs(start - known) > slipCents;
    if (!far || (!off.empty() && (off.front() < 0.0) != (start < 0.0))) off.clear();
    if (!far) return false;
    off.push_back(start);
    if (off.size() < slipStarts) return false;
    slipOffset = Cents(median(off));
    off.clear();
    current.message = capitalised(fmt::format("{}. Then play on.", tuningAdvice(config.guitar, string, slipOffset)));
    return true;
}

}  // namespace landfall
