#include "src/practice/practice_care.h"

#include <algorithm>
#include <cmath>

#include <fmt/core.h>

#include "src/music/bending_model.h"
#include "src/music/chord_move.h"

namespace landfall {

namespace {

bool isWound(const Guitar& guitar, int string) { return string > guitar.plainStrings; }

bool minuteOffDue(const SittingLoad& load, const CareLimits& limits) {
    return load.setsSinceMinuteOff >= limits.setsBetweenMinutesOff || load.sinceMinuteOff >= limits.betweenMinutesOff;
}

bool minuteOffDue(const Drill& next, const SittingLoad& load, const CareLimits& limits) {
    return minuteOffDue(load, limits)
           || (isDemanding(next) && load.demandingRunning + next.tries >= limits.demandingRunning);
}

// The hand pushes a full step or more; a release only lets go of one.
bool isDemanding(const Move& move) {
    return kindOf(move.gesture).bends
           && std::ranges::any_of(stringsOf(move), [](const Move& string) { return string.width() >= 2.0; });
}

bool isDoubleBend(const Move& move) {
    return kindOf(move.gesture).bends
           && std::ranges::any_of(move.with, [](const Move& other) { return other.width() != 0.0; });
}

bool isChordSlide(const Move& move) { return kindOf(move.gesture).overFrets && !move.with.empty(); }

int countOf(const Line& line, bool (*is)(const Move&)) {
    return static_cast<int>(std::ranges::count_if(line.moves, [is](const LineMove& each) { return is(each.move); }));
}

int demandingMoves(const Line& line) { return countOf(line, isDemanding); }

std::string enoughDoubleBends(int played) {
    return fmt::format("{} bends of two strings at once are enough for one sitting; single strings are fine", played);
}

std::string enoughChordSlides(int played) {
    return fmt::format("{} slides of several strings are enough for the fingertips in one sitting", played);
}

// Why a bend of so many semitones, from an unbent note, waits until somebody asks for it.
std::optional<std::string> heavyBend(Gesture gesture, double width, const Guitar& guitar, NeckPlace fretted,
                                     const CareLimits& limits) {
    const std::string what = fmt::format("{}: bending a {}", placeName(guitar, fretted), intervalName(gesture, width));
    if (isWound(guitar, fretted.string)) return what + " on a wound string is off until you ask for it";
    const auto effort = bendEffort(guitar, fretted, Cents(100.0 * width));
    if (!effort) return what + " cannot be worked out for this string, so it is off until you ask for it";
    if (effort->forceNewton <= limits.forceNewton) return {};
    return fmt::format("{} takes about {:.0f} N there, over {:g} N; it is off until you ask for it", what,
                       effort->forceNewton, limits.forceNewton);
}

// The same of one move of a drill: every string that it bends by a full step or more, and all of them together, which
// one hand pushes.
std::optional<std::string> heavyMove(const Move& move, const Guitar& guitar, const CareLimits& limits) {
    double force = 0.0;  // N
    int bent = 0;
    for (const Move& string : stringsOf(move)) {
        if (!kindOf(string.gesture).bends || !string.place) continue;
        const double width = std::max(std::abs(string.from.value - pitchAt(guitar, *string.place).value),
                                      std::abs(string.to.value - pitchAt(guitar, *string.place).value));
        if (width < 1e-9) continue;
        ++bent;
        if (width >= 2.0)
            if (auto heavy = heavyBend(string.gesture, width, guitar, *string.place, limits)) return heavy;
        const auto effort = bendEffort(guitar, *string.place, Cents(100.0 * width));
        force += effort ? effort->forceNewton : 0.0;
    }
    if (bent < 2 || force <= limits.forceNewton) return {};
    return fmt::format(
        "{}: bending {} strings at once takes about {:.0f} N there, over {:g} N; it is off until you ask "
        "for it",
        placeName(guitar, *move.place), bent, force, limits.forceNewton);
}

std::string enoughMinutes(const CareLimits& limits) {
    return fmt::format("{:g} minutes are enough for one sitting", limits.sitting.value / 60.0);
}

std::string enoughBends(int bends, bool firstMonth) {
    return fmt::format("{} full-step bends are enough for one sitting{}; half steps and slides are fine", bends,
                       firstMonth ? " in the first month" : "");
}

}  // namespace

std::optional<std::string> heavyReason(const Drill& drill, const Guitar& guitar, NeckPlace place,
                                       const CareLimits& limits) {
    if (widestBend(drill) >= 4.0)
        return fmt::format("{}: two-step bends are off until you ask for them", placeName(guitar, place));
    const auto moves = movesAt(drill, guitar, place);
    if (!moves) return {};
    for (const Move& move : *moves)
        if (auto heavy = heavyMove(move, guitar, limits)) return heavy;
    return {};
}

std::optional<std::string> sittingReason(const Drill& drill, const Guitar& guitar, NeckPlace place,
                                         const SittingLoad& load, bool firstMonth, const CareLimits& limits) {
    if (load.played >= limits.sitting) return enoughMinutes(limits);
    const int most = firstMonth ? limits.demandingFirstMonth : limits.demandingLater;
    if (isDemanding(drill) && load.demanding >= most) return enoughBends(load.demanding, firstMonth);
    if (hasDoubleBend(drill) && load.doubleBends >= limits.doubleBends) return enoughDoubleBends(load.doubleBends);
    if (hasChordSlide(drill) && load.chordSlides >= limits.chordSlides) return enoughChordSlides(load.chordSlides);
    const auto slides = load.woundOctaveSlides.find(place.string);
    if (hasOctaveSlide(drill) && isWound(guitar, place.string) && slides != load.woundOctaveSlides.end()
        && slides->second >= limits.woundOctaveSlides)
        return fmt::format("{} octave slides on the {} are enough for the fingertips in one sitting", slides->second,
                           stringName(guitar, place.string));
    return {};
}

void addTry(SittingLoad& load, const Drill& drill, const Guitar& guitar, NeckPlace place) {
    if (isDemanding(drill)) {
        ++load.demanding;
        ++load.demandingRunning;
    } else {
        load.demandingRunning = 0;
    }
    load.doubleBends += hasDoubleBend(drill) ? 1 : 0;
    load.chordSlides += hasChordSlide(drill) ? 1 : 0;
    if (hasOctaveSlide(drill) && isWound(guitar, place.string)) ++load.woundOctaveSlides[place.string];
}

Seconds restBefore(const Drill& next, const SittingLoad& load, const CareLimits& limits) {
    return minuteOffDue(next, load, limits) ? std::max(next.rest, limits.minuteOff) : next.rest;
}

void addRest(SittingLoad& load, Seconds rest, const CareLimits& limits) {
    if (rest < limits.minuteOff) return;
    load.sinceMinuteOff = Seconds(0.0);
    load.setsSinceMinuteOff = 0;
    load.demandingRunning = 0;
}

Seconds minuteOffStillDue(const Drill& next, const SittingLoad& load, Seconds rested, const CareLimits& limits) {
    if (!minuteOffDue(next, load, limits)) return Seconds(0.0);
    return std::max(Seconds(0.0), limits.minuteOff - rested);
}

Seconds warmUpDue(const Drill& drill, const SittingLoad& load, const CareLimits& limits) {
    if (!isDemanding(drill)) return Seconds(0.0);
    return std::max(Seconds(0.0), limits.warmUp - load.played);
}

std::optional<std::string> heavyReason(const Line& line, const Guitar& guitar, const CareLimits& limits) {
    for (const LineMove& each : line.moves) {
        const Move& move = each.move;
        if (!isDemanding(move) || !move.place) continue;
        if (move.width() >= 4.0)
            return fmt::format("{}: a two-step bend is off until you ask for it", placeName(guitar, *move.place));
        if (auto heavy = heavyMove(move, guitar, limits)) return heavy;
    }
    return {};
}

std::optional<std::string> sittingReason(const Line& line, const SittingLoad& load, bool firstMonth,
                                         const CareLimits& limits) {
    if (load.played >= limits.sitting) return enoughMinutes(limits);
    const int most = firstMonth ? limits.demandingFirstMonth : limits.demandingLater, more = demandingMoves(line);
    // A line is played as a whole, so that its bends are counted before; a long one may be played once.
    if (more > 0 && load.demanding > 0 && load.demanding + more > most) return enoughBends(load.demanding, firstMonth);
    const int doubled = countOf(line, isDoubleBend), slid = countOf(line, isChordSlide);
    if (doubled > 0 && load.doubleBends > 0 && load.doubleBends + doubled > limits.doubleBends)
        return enoughDoubleBends(load.doubleBends);
    if (slid > 0 && load.chordSlides > 0 && load.chordSlides + slid > limits.chordSlides)
        return enoughChordSlides(load.chordSlides);
    return {};
}

void addMove(SittingLoad& load, const Move& move, const Guitar& guitar) {
    load.demanding += isDemanding(move) ? 1 : 0;
    load.demandingRunning = isDemanding(move) ? load.demandingRunning + 1 : 0;
    load.doubleBends += isDoubleBend(move) ? 1 : 0;
    load.chordSlides += isChordSlide(move) ? 1 : 0;
    if (move.gesture == Gesture::slide && std::abs(move.width()) >= 12.0 && move.place
        && isWound(guitar, move.place->string))
        ++load.woundOctaveSlides[move.place->string];
}

Seconds restBefore(const Line& next, const SittingLoad& load, const CareLimits& limits) {
    const int more = demandingMoves(next);
    const bool running =
        more > 0 && load.demandingRunning > 0 && load.demandingRunning + more > limits.demandingRunning;
    return minuteOffDue(load, limits) || running ? limits.minuteOff : Seconds(0.0);
}

Seconds warmUpDue(const Line& line, const SittingLoad& load, const CareLimits& limits) {
    if (demandingMoves(line) == 0) return Seconds(0.0);
    return std::max(Seconds(0.0), limits.warmUp - load.played);
}

// Hands: Marreiro dos Santos & Minghelli 2024. Hearing: NIOSH 1998, WHO-ITU H.870. The rest is common practice.
std::string_view cautions() {
    return "Before you start\n"
           "Hands    Warm up with easy fretting, take the rests, and stop if anything hurts, tingles or goes numb. Of "
           "105 guitarists asked,\n"
           "         53 % had been injured at some time (Marreiro dos Santos & Minghelli 2024). If it does not pass, "
           "see a doctor or a hand therapist.\n"
           "Strings  A string that is bent hard or tuned up can snap: keep your eyes away from it, and protect them "
           "when you restring.\n"
           "         If the strings tingle, unplug at once and have guitar, amplifier and socket checked by an "
           "electrician.\n"
           "Hearing  Start with the volume low. 85 dBA is the limit for 8 hours, and every 3 dB more halves the time "
           "(NIOSH 1998); for\n"
           "         headphones 80 dB for 40 hours a week, children 75 dB (WHO-ITU H.870). If your ears ring "
           "afterwards, it was too loud.\n"
           "This is general advice, not medical advice. If in doubt, ask a professional.\n";
}

}  // namespace landfall
