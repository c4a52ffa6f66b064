#include "src/practice/drill_runner.h"

#include <algorithm>
#include <cmath>

#include <fmt/core.h>

#include "src/practice/string_check.h"

namespace landfall {

namespace {

constexpr double idleAfter = 20.0;         // s without a try: the guitar is taken to be out of hand, and the clocks stand still
constexpr double openTryFor = 10.0;        // s to the next step of a try before it is over
constexpr double slipCents = 6.0;          // three starts in a row further off than this: the string has slipped
constexpr std::size_t slipStarts = 3;
constexpr std::size_t marksShown = 5;
constexpr int triesForAim = 10, insideForAim = 8;
constexpr std::ptrdiff_t leastUnguided = 3;   // fewer tries without the trace make no summary: those with it count too
constexpr double rightFretCents = 50.0;    // a slide at an unknown fret counts where it is nearest to the asked one
constexpr double longLinger = 0.15;        // s on the note that a slide leaves; more is heard as two notes (common practice)

double medianOf(std::vector<double> values) {
    std::sort(values.begin(), values.end());
    const std::size_t n = values.size();
    return n % 2 == 1 ? values[n / 2] : 0.5 * (values[n / 2 - 1] + values[n / 2]);
}

std::string promptFor(const Guitar& guitar, const std::vector<Move>& moves) {
    std::string text = placeName(guitar, *moves.front().place);
    for (std::size_t i = 0; i < moves.size(); ++i) {
        const Move& move = moves[i];
        const double width = move.to.value - move.from.value;
        text += i == 0 ? " · " : ", ";
        if (i > 0 && move.place->fret != moves[i - 1].place->fret) text += fmt::format("fret {} ", move.place->fret);
        switch (move.gesture) {
            case Gesture::bend: text += intervalName(move.gesture, width); break;
            case Gesture::preBend: text += "pre-bend " + intervalName(move.gesture, width); break;
            case Gesture::slide: text += fmt::format("slide to fret {}", *move.targetFret); break;
            case Gesture::release: text += "release"; break;
            case Gesture::note: text += "note"; break;
            case Gesture::vibrato: text += "vibrato"; break;
        }
    }
    return text;
}

bool isLost(const std::optional<Landing>& landing) { return !landing || !landing->landingError; }

// Marks of one step of the drill, for the summary.
struct StepMarks {
    Gesture gesture = Gesture::bend;
    int asked = 0, inside = 0, lost = 0, otherNote = 0;
    std::vector<double> firstStops, lingers;
};

std::string adviceFor(const StepMarks& step, Cents aim) {
    const bool slide = step.gesture == Gesture::slide;
    if (step.lost * 3 >= step.asked && step.lost > 0)
        return slide ? "Keep the pressure even all the way: the note must still be alive when it arrives."
                     : "Keep the string pressed to the fret while it moves, and let it ring: too many died on the way.";
    if (step.otherNote * 3 >= step.asked && step.otherNote > 0)
        return slide ? "Look at the fret you are going to before you leave the first one."
                     : "Hear the target first: fret it, then bend until both sound the same.";
    if (slide) {
        if (!step.lingers.empty() && medianOf(step.lingers) > longLinger) return "Leave the first note at once: it is only the way in.";
        return step.inside * 5 >= step.asked * 4 ? "Go on to the next drill, or play this one from another fret." : "Slower first: arrive on the fret, then let it ring.";
    }
    if (step.firstStops.empty()) return "Play it once more.";
    std::vector<double> sizes;
    for (const double each : step.firstStops) sizes.push_back(std::abs(each));
    const double typical = medianOf(step.firstStops), size = medianOf(sizes);
    const bool oneSided = std::abs(typical) >= 8.0 && std::abs(typical) >= 0.5 * size;
    if (oneSided && step.gesture == Gesture::release)
        return typical > 0.0 ? "Let the string come all the way home: you stop above the note." : "Let the string go straight home: the note ends low.";
    if (oneSided) return fmt::format("{} by about {:.0f}: {}.", typical < 0.0 ? "You stop short" : "You go past", std::abs(typical),
                                     typical < 0.0 ? "push a little further before you hold" : "ease off a little earlier");
    if (size > aim.value) return "The middle is right, the tries scatter: go slower, and hear the target before each one.";
    if (step.inside * 5 >= step.asked * 4) return "Go on to the next drill, or play this one at another place.";
    return "Nearly there: once more, at the same pace.";
}

}  // namespace

Result<DrillRunner> DrillRunner::make(DrillRunnerConfig config, Seconds now) {
    DrillRunner runner(std::move(config), now);
    const DrillRunnerConfig& given = runner.config;
    FittedPlaces fitted = placesOn(given.drill, given.guitar);
    runner.leftOut = std::move(fitted.missing);
    for (const NeckPlace place : fitted.places) {
        const auto heavy = given.heavyAsked ? std::nullopt : heavyReason(given.drill, given.guitar, place, given.limits);
        const auto enough = sittingReason(given.drill, given.guitar, place, given.load, given.firstMonth, given.limits);
        if (heavy || enough) {
            const std::string& reason = heavy ? *heavy : *enough;
            if (std::find(runner.leftOut.begin(), runner.leftOut.end(), reason) == runner.leftOut.end()) runner.leftOut.push_back(reason);
        } else {
            runner.setPlaces.insert(runner.setPlaces.end(), static_cast<std::size_t>(given.drill.sets), place);
        }
    }
    if (runner.setPlaces.empty())
        return Error{Error::Code::unsupported, runner.leftOut.empty() ? fmt::format("'{}' has no place to play", given.drill.name)
                                                                      : fmt::format("'{}' is not played now: {}", given.drill.name, runner.leftOut.front())};
    runner.current.sets = static_cast<int>(runner.setPlaces.size());
    runner.current.attempts = given.drill.tries;
    runner.prepare();
    const Seconds warmUp = warmUpDue(given.drill, given.load, given.limits);
    const Seconds minuteOff = minuteOffStillDue(given.drill, given.load, Seconds(0.0), given.limits);
    if (warmUp.value > 0.0) {
        runner.current.phase = DrillPhase::warmUp;
        runner.current.left = warmUp;
        runner.current.message = "Warm up: easy fretting first, then half steps.";
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
    current.guided = static_cast<int>(tries.size()) < config.drill.guidedTries;
    current.byEar = config.drill.lastSetByEar && current.sets > 1 && current.set == current.sets && !current.guided;
    current.lastMarks.clear();
    for (const Try& each : tries) {
        const NeckPlace place = setPlaces[static_cast<std::size_t>(each.set - 1)];
        if (place.string != current.place.string || place.fret != current.place.fret) continue;
        for (const auto& landing : each.steps)
            if (landing && landing->firstStopError) current.lastMarks.push_back(*landing->firstStopError);
    }
    if (current.lastMarks.size() > marksShown) current.lastMarks.erase(current.lastMarks.begin(), current.lastMarks.end() - marksShown);
}

void DrillRunner::ask(Seconds now) {
    lastEvent = now;
    current.left = Seconds(0.0);
    current.message.clear();
    if (drillTime >= config.limits.drill) return finish(fmt::format("{:g} minutes: enough of one drill", config.limits.drill.value / 60.0));
    if (const auto enough = sittingReason(config.drill, config.guitar, current.place, config.load, config.firstMonth, config.limits))
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
    if (open && step < open->steps.size()) {
        closeTry(now);  // begun again before its last step
        if (current.phase != DrillPhase::asking) return;
    }
    if (!open) {
        if (step != 0) return;  // the rest of a try that is over already
        open = Try{current.set, current.guided, {}};
    }
    if (landing.verdict == Verdict::twoStrings || landing.verdict == Verdict::notMeasurable) {  // not counted, but the hand has played it
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
    open->steps.resize(step);  // steps that were passed over are lost
    open->steps.push_back(landing);
    if (isLost(landing) || step + 1 == steps) closeTry(now);
}

void DrillRunner::closeTry(Seconds now) {
    open->steps.resize(current.moves.size());
    addTry(config.load, config.drill, config.guitar, current.place);
    tries.push_back(std::move(*open));
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
        const auto enough = sittingReason(config.drill, config.guitar, current.place, config.load, config.firstMonth, config.limits);
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
    const bool inHand = current.phase == DrillPhase::asking && (now - lastEvent).value <= idleAfter;
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
                current.message = "This minute off is for the hand: it goes on.";
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

bool DrillRunner::playedLast(Seconds onset) const {
    const Try* last = open ? &*open : tries.empty() ? nullptr : &tries.back();
    return last && std::any_of(last->steps.begin(), last->steps.end(), [&](const auto& step) { return step && step->onset == onset; });
}

void DrillRunner::discard() {
    if (open) {
        open.reset();
        return;
    }
    if (tries.empty()) return;
    const int set = tries.back().set;
    tries.pop_back();
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

bool DrillRunner::startsInTune(const Landing& landing) { return landing.startError && abs(*landing.startError).value <= slipCents; }

// Three starts in a row off to the same side, and not where the player chose to go on.
bool DrillRunner::slipped(const Landing& first) {
    // A bent start says how the hand bends, not how the string is tuned; one that moves at the stroke says nothing.
    if (!first.startError || first.move.gesture == Gesture::preBend || first.move.gesture == Gesture::release) return false;
    const int string = current.place.string;
    std::vector<double>& off = starts[string];
    const double start = first.startError->value;
    const double known = accepted.count(string) > 0 ? accepted[string].value : 0.0;
    const bool far = std::abs(start) > slipCents && std::abs(start - known) > slipCents;
    if (!far || (!off.empty() && (off.front() < 0.0) != (start < 0.0))) off.clear();
    if (!far) return false;
    off.push_back(start);
    if (off.size() < slipStarts) return false;
    slipOffset = Cents(medianOf(off));
    off.clear();
    current.message = fmt::format("{}. Then play on.", tuningAdvice(config.guitar, string, slipOffset));
    if (current.message.front() >= 'a' && current.message.front() <= 'z') current.message.front() -= 'a' - 'A';
    return true;
}

bool DrillRunner::inside(const Landing& landing) const {
    if (isLost(landing) || landing.verdict == Verdict::wrongFret || landing.verdict == Verdict::otherInterval) return false;
    if (landing.move.gesture == Gesture::slide) {
        if (landing.landedFret && landing.move.targetFret) return *landing.landedFret == *landing.move.targetFret;
        return abs(*landing.landingError).value <= rightFretCents;
    }
    return landing.firstStopError && abs(*landing.firstStopError) <= config.aim;
}

DrillSummary DrillRunner::summary() const {
    DrillSummary summary;
    summary.tries = static_cast<int>(tries.size());
    const auto unguided = std::count_if(tries.begin(), tries.end(), [](const Try& each) { return !each.guided; });
    const bool guidedToo = unguided < leastUnguided;  // too few to say anything by themselves
    std::vector<StepMarks> steps(config.drill.steps.size());
    std::vector<double> stops, sizes;
    for (const Try& each : tries) {
        if (each.guided && !guidedToo) continue;
        bool allInside = true;
        for (std::size_t i = 0; i < steps.size(); ++i) {
            const auto& landing = each.steps[i];
            StepMarks& step = steps[i];
            step.gesture = config.drill.steps[i].gesture;
            ++step.asked;
            const bool good = landing && inside(*landing);
            allInside = allInside && good;
            step.inside += good ? 1 : 0;
            step.lost += isLost(landing) ? 1 : 0;
            if (!landing) continue;
            step.otherNote += landing->verdict == Verdict::otherInterval || landing->verdict == Verdict::wrongFret ? 1 : 0;
            if (landing->linger) step.lingers.push_back(landing->linger->value);
            if (!landing->firstStopError || step.gesture == Gesture::slide) continue;
            step.firstStops.push_back(landing->firstStopError->value);
            stops.push_back(landing->firstStopError->value);
            sizes.push_back(std::abs(landing->firstStopError->value));
        }
        if (!each.guided && summary.firstTries < triesForAim) {
            ++summary.firstTries;
            summary.firstInside += allInside ? 1 : 0;
        }
    }
    for (const StepMarks& step : steps) {
        summary.marks += step.asked;
        summary.inside += step.inside;
        summary.lost += step.lost;
    }
    if (!stops.empty()) {
        summary.typicalSigned = Cents(medianOf(stops));
        summary.typicalAbsolute = Cents(medianOf(sizes));
    }
    if (summary.marks == 0) {
        summary.line = "Nothing played.";
        summary.nextStep = "Take the first try when you are ready.";
        return summary;
    }
    if (summary.typicalAbsolute) {
        const double typical = summary.typicalSigned->value;
        const std::string side = std::abs(typical) < 3.0 ? "to either side" : fmt::format("mostly {}", typical < 0.0 ? "under" : "over");
        summary.line = fmt::format("Typical miss {:.0f}, {}; {} of {} inside ±{:g}", summary.typicalAbsolute->value, side, summary.inside, summary.marks,
                                   config.aim.value);
    } else {
        summary.line = fmt::format("{} of {} on the {}", summary.inside, summary.marks, steps.front().gesture == Gesture::slide ? "right fret" : "note");
    }
    if (summary.lost > 0) summary.line += fmt::format("; {} lost", summary.lost);
    const auto guided = static_cast<std::ptrdiff_t>(tries.size()) - unguided;
    summary.line += !guidedToo || guided == 0 ? "." : unguided == 0 ? " (with the trace shown)." : fmt::format(" ({} with the trace shown).", guided);
    const auto worst = std::min_element(steps.begin(), steps.end(), [](const StepMarks& a, const StepMarks& b) {
        return a.inside * b.asked < b.inside * a.asked;  // the smaller share inside
    });
    summary.nextStep = adviceFor(*worst, config.aim);
    return summary;
}

std::optional<Cents> offeredAim(Cents current, std::span<const AimDay> days) {
    int good = 0;
    for (const AimDay& day : days) good += day.tries >= triesForAim && day.inside >= insideForAim ? 1 : 0;
    if (good < 2) return {};
    if (current.value > 18.0) return Cents(18.0);
    if (current.value > 12.0) return Cents(12.0);
    return {};
}

}  // namespace landfall
