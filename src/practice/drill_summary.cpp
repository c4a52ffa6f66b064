#include "src/practice/drill_summary.h"

#include <algorithm>
#include <cmath>
#include <optional>

#include <fmt/core.h>

#include "src/practice/one_sided.h"
#include "src/practice/words.h"

namespace landfall {

namespace {

constexpr double longLinger = 0.15;  // s on the note that a slide leaves; more is heard as two notes (common practice)

constexpr int goodOf5 = 4;  // inside of five: nothing to mend

// The smallest of them that says something by itself.
constexpr int leastOfPlace = 3;

bool goesWell(const GestureTally& step) { return step.inside * 5 >= step.counted * goodOf5; }

std::string slideAdvice(const GestureTally& step) {
    if (step.typicalLinger && step.typicalLinger->value > longLinger)
        return "Start the slide at once: the first note is only the way in.";
    return "Go slower: land on the fret, then let it ring.";
}

// Of a pitch that the hand makes and that is off to one side.
std::string sideAdvice(const GestureKind& kind, double typical) {
    const double size = std::abs(typical);
    if (!kind.bends)
        return fmt::format("You are usually {:.0f} cents {}: press straight down, without pulling the string.", size,
                           typical < 0.0 ? "under" : "over");
    if (kind.course == Course::falls)
        return typical > 0.0 ? "You stop above the note: let the string come all the way down."
                             : "You end below the note: let the string go straight back, without pulling it.";
    return fmt::format("You usually {} by {:.0f} cents: {}.", typical < 0.0 ? "stop short" : "go too far", size,
                       typical < 0.0 ? "push a little further" : "stop a little sooner");
}

// What to mend of a step that does not go well.
std::string adviceFor(const GestureTally& step) {
    const GestureKind& kind = kindOf(step.gesture);
    // Of a drill about the hold, unless most did not even land.
    if (const int letGo = step.sank + step.shortened; letGo > 0 && letGo * 2 >= step.counted - step.inside)
        return step.sank >= step.shortened ? fmt::format(
                   "The pitch sinks by about {:.0f} cents: keep the fingers behind the bending one on the "
                   "string.",
                   step.typicalSag->value)
                                           : "Keep pressing until two full seconds have passed.";
    if (step.hurried > 0 && step.hurried * 2 >= step.counted - step.inside)
        return fmt::format("You take about {:.1f} s: let the string creep, and listen all the way.",
                           step.typicalWay->value);
    if (step.lost * 3 >= step.counted && step.lost > 0)
        return kind.overFrets ? "Keep the pressure even all the way, so that the note still sounds when it arrives."
                              : "Keep the string pressed down while you bend: too many notes died on the way.";
    if (step.otherNote * 3 >= step.counted && step.otherNote > 0)
        return kind.overFrets ? "Look at the fret you are going to before you start the slide."
                              : "Play the target note first, then bend until it sounds the same.";
    if (kind.overFrets) return slideAdvice(step);
    if (!step.typicalError) return "Play it once more.";
    const double typical = step.typicalError->value;
    const bool far = std::abs(typical) >= 8.0;
    if (far && isOneSided(typical, step.typicalMiss->value)) return sideAdvice(kind, typical);
    return std::string(far ? "Uneven" : "Right on average, but uneven")
           + ": go slower, and hear the target before each try.";
}

// Guided tries that the whole leaves out are left out of its places, too: they add up.
std::vector<PlaceTally> placesOf(std::span<const DrillMark> marks, const Drill& drill, Cents aim,
                                 const std::vector<GestureTally>& whole) {
    const auto leavesGuided = [&whole](Gesture gesture) {
        return std::any_of(whole.begin(), whole.end(), [gesture](const GestureTally& each) {
            return each.gesture == gesture && each.counted < each.tries;
        });
    };
    std::vector<PlaceTally> found;
    std::vector<Tally> tallies;
    for (const DrillMark& mark : marks) {
        const int step = std::max(0, mark.landing.moveNumber - 1) % static_cast<int>(drill.steps.size());
        const auto same = std::find_if(found.begin(), found.end(), [&](const PlaceTally& each) {
            return each.place == mark.place && each.step == step;
        });
        const auto at = static_cast<std::size_t>(same - found.begin());
        if (same == found.end()) {
            found.push_back({mark.place, step, {}});
            tallies.emplace_back(drill.subject);
        }
        if (!mark.guided || !leavesGuided(mark.landing.move.gesture)) tallies[at].add(mark.landing, aim, mark.guided);
    }
    for (std::size_t i = 0; i < found.size(); ++i)
        if (const auto gestures = tallies[i].gestures(); !gestures.empty()) found[i].tally = gestures.front();
    return found;
}

bool isRelease(const PlaceTally& each) { return each.tally.gesture == Gesture::release && each.tally.counted > 0; }

// The place and step that went worst, of a drill about the release a release. A place where hardly anything counts is judged with the others.
const PlaceTally* worstOf(const std::vector<PlaceTally>& places, Subject subject) {
    const PlaceTally* worst = nullptr;
    const bool released = subject == Subject::release && std::any_of(places.begin(), places.end(), isRelease);
    for (const PlaceTally& each : places) {
        if (each.tally.counted == 0 || (released && !isRelease(each))) continue;
        if (!worst || each.tally.shareInside() < worst->tally.shareInside()
            || (each.tally.shareInside() == worst->tally.shareInside()
                && each.tally.typicalMiss.value_or(Cents(0.0)) > worst->tally.typicalMiss.value_or(Cents(0.0))))
            worst = &each;
    }
    return worst;
}

// Whether the place is what makes the difference: elsewhere the same step goes well.
bool onlyThere(const PlaceTally& worst, const std::vector<PlaceTally>& places) {
    int others = 0;
    for (const PlaceTally& each : places) {
        if (each.step != worst.step || each.place == worst.place || each.tally.counted == 0) continue;
        if (!goesWell(each.tally)) return false;
        ++others;
    }
    return others > 0 && worst.place.string > 0;
}

std::string nextStepOf(const std::vector<PlaceTally>& places, const PlaceTally* worst, const GestureTally& all,
                       const Guitar& guitar, bool severalStrings) {
    if (!worst)
        return severalStrings ? "Pick all the strings in one stroke, and let each of them ring clearly."
                              : "Damp the other strings and let the note ring clearly.";
    const bool lingers = worst->tally.typicalLinger && worst->tally.typicalLinger->value > longLinger;
    if (goesWell(worst->tally) && !lingers) {
        return kindOf(worst->tally.gesture).overFrets
                   ? "Keep it like that. Go on to the next drill, or play this one on other frets."
                   : "Keep it like that. Go on to the next drill, or play this one somewhere else on the neck.";
    }
    const bool there = onlyThere(*worst, places) && worst->tally.counted >= leastOfPlace;
    const GestureTally& judged = worst->tally.counted >= leastOfPlace ? worst->tally : all;
    return there ? fmt::format("{}: {}", placeName(guitar, worst->place), uncapitalised(adviceFor(judged)))
                 : adviceFor(judged);
}

// "5 of 6 good, 9 ¢ off"; over frets the share says it.
std::string shortWords(const GestureTally& tally, Subject subject) {
    if (tally.counted == 0) return tally.notCounted > 0 ? "not counted" : "guided";
    if (subject == Subject::hold)
        return fmt::format("{} of {} stayed{}", tally.inside, tally.counted,
                           tally.typicalSag ? fmt::format(", sank {:.0f} ¢", tally.typicalSag->value) : "");
    if (subject == Subject::slow)
        return fmt::format("{} of {} slow{}", tally.inside, tally.counted,
                           tally.typicalWay ? fmt::format(", {:.1f} s", tally.typicalWay->value) : "");
    const bool counts = !tally.typicalMiss || kindOf(tally.gesture).overFrets;
    return fmt::format("{} of {} good{}", tally.inside, tally.counted,
                       counts ? "" : fmt::format(", {:.0f} ¢ off", tally.typicalMiss->value));
}

std::string guessesOf(std::span<const DrillMark> marks, Cents aim) {
    const auto guessed =
        std::count_if(marks.begin(), marks.end(), [](const DrillMark& mark) { return mark.guess.has_value(); });
    const auto right = std::count_if(marks.begin(), marks.end(), [&](const DrillMark& mark) {
        return mark.guess && mark.guess == truthOf(mark.landing, aim);
    });
    return guessed == 0 ? "" : fmt::format("By ear you guessed {} of {} right.", right, guessed);
}

}  // namespace

DrillSummary summarise(std::span<const DrillMark> marks, const Drill& drill, Cents aim, const Guitar& guitar) {
    Tally all(drill.subject);
    for (const DrillMark& mark : marks) all.add(mark.landing, aim, mark.guided);
    const std::vector<GestureTally> whole = all.gestures();
    DrillSummary summary{.gestures = whole,
                         .places = placesOf(marks, drill, aim, whole),
                         .guesses = guessesOf(marks, aim),
                         .words = {"Nothing played", ""},
                         .nextStep = "Play the first try when you are ready."};
    if (summary.gestures.empty()) return summary;
    // Of a drill about the release the bends before it are only the way there.
    std::vector<GestureTally> told = summary.gestures;
    if (drill.subject == Subject::release && std::any_of(summary.places.begin(), summary.places.end(), isRelease))
        std::erase_if(told, [](const GestureTally& each) { return each.gesture != Gesture::release; });
    summary.words = wordsOf(told, aim, drill.subject);
    const PlaceTally* worst = worstOf(summary.places, drill.subject);
    const auto same = std::find_if(summary.gestures.begin(), summary.gestures.end(), [&](const GestureTally& each) {
        return worst && each.gesture == worst->tally.gesture;
    });
    summary.nextStep =
        nextStepOf(summary.places, worst, same == summary.gestures.end() ? summary.gestures.front() : *same, guitar,
                   !drill.with.empty());
    return summary;
}

std::vector<EndRow> endRows(const DrillSummary& now, const DrillSummary& before, const Drill& drill,
                            const Guitar& guitar) {
    std::vector<EndRow> rows;
    for (const PlaceTally& each : now.places) {
        if (each.place.string < 1) continue;
        std::string name = placeName(guitar, each.place);
        const DrillStep& step = drill.steps[static_cast<std::size_t>(each.step)];
        if (drill.steps.size() > 1) {
            const double semitones = step.toSemitones - step.fromSemitones;
            name += ", " + filledIn(kindOf(step.gesture).title, step.gesture, semitones, 0);
        }
        const auto then = std::find_if(before.places.begin(), before.places.end(), [&](const PlaceTally& one) {
            return one.place == each.place && one.step == each.step;
        });
        rows.push_back({std::move(name), shortWords(each.tally, drill.subject),
                        then == before.places.end() ? "" : shortWords(then->tally, drill.subject)});
    }
    return rows;
}

}  // namespace landfall
