#include "src/practice/drill_summary.h"

#include <algorithm>
#include <cmath>
#include <optional>

#include <fmt/core.h>

namespace landfall {

namespace {

constexpr double longLinger = 0.15;  // s on the note that a slide leaves; more is heard as two notes (common practice)

std::string adviceFor(const GestureTally& step, Cents aim) {
    const GestureKind& kind = kindOf(step.gesture);
    if (step.lost * 3 >= step.counted && step.lost > 0)
        return kind.overFrets ? "Keep the pressure even all the way, so that the note still sounds when it arrives."
                              : "Keep the string pressed down while you bend: too many notes died on the way.";
    if (step.otherNote * 3 >= step.counted && step.otherNote > 0)
        return kind.overFrets ? "Look at the fret you are going to before you start the slide."
                              : "Play the target note first, then bend until it sounds the same.";
    if (kind.overFrets) {
        if (step.typicalLinger && step.typicalLinger->value > longLinger)
            return "Start the slide at once: the first note is only the way in.";
        return step.inside * 5 >= step.counted * 4 ? "Go on to the next drill, or play this one on other frets."
                                                   : "Go slower: land on the fret, then let it ring.";
    }
    if (!step.typicalError) return "Play it once more.";
    const double typical = step.typicalError->value, size = step.typicalMiss->value;
    const bool oneSided = std::abs(typical) >= 8.0 && std::abs(typical) >= 0.5 * size;
    if (oneSided && kind.bends && kind.course == Course::falls)
        return typical > 0.0 ? "You stop above the note: let the string come all the way down."
                             : "You end below the note: let the string go straight back, without pulling it.";
    if (oneSided)
        return fmt::format("You usually {} by {:.0f} cents: {}.", typical < 0.0 ? "stop short" : "go too far",
                           std::abs(typical), typical < 0.0 ? "push a little further" : "stop a little sooner");
    if (size > aim.value) return "Right on average, but uneven: go slower, and hear the target before each try.";
    if (step.inside * 5 >= step.counted * 4)
        return "Go on to the next drill, or play this one somewhere else on the neck.";
    return "Nearly there. Play it once more, just as fast.";
}

}  // namespace

namespace {

std::string guessesOf(std::span<const DrillMark> marks, Cents aim) {
    const auto guessed =
        std::count_if(marks.begin(), marks.end(), [](const DrillMark& mark) { return mark.guess.has_value(); });
    const auto right = std::count_if(marks.begin(), marks.end(), [&](const DrillMark& mark) {
        return mark.guess && mark.guess == truthOf(mark.landing, aim);
    });
    return guessed == 0 ? "" : fmt::format("By ear you guessed {} of {} right.", right, guessed);
}

}  // namespace

DrillSummary summarise(std::span<const DrillMark> marks, const Drill& drill, Cents aim) {
    Tally all;
    std::vector<Tally> steps(drill.steps.size());  // two bends of one try may have a fault each
    for (const DrillMark& mark : marks) {
        all.add(mark.landing, aim, mark.guided);
        steps[static_cast<std::size_t>(std::max(0, mark.landing.moveNumber - 1)) % steps.size()].add(mark.landing, aim,
                                                                                                     mark.guided);
    }
    DrillSummary summary{.gestures = all.gestures(),
                         .guesses = {},
                         .words = {"Nothing played", ""},
                         .nextStep = "Play the first try when you are ready."};
    if (summary.gestures.empty()) return summary;
    summary.words = wordsOf(summary.gestures, aim);
    summary.guesses = guessesOf(marks, aim);
    summary.nextStep = "Damp the other strings and let the note ring clearly.";
    std::optional<GestureTally> worst;
    for (const Tally& step : steps)
        for (const GestureTally& played : step.gestures())
            if (played.counted > 0 && (!worst || played.shareInside() < worst->shareInside())) worst = played;
    if (worst) summary.nextStep = adviceFor(*worst, aim);
    return summary;
}

}  // namespace landfall
