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
        return kind.overFrets
                   ? "Keep the pressure even all the way: the note must still be alive when it arrives."
                   : "Keep the string pressed to the fret while it moves, and let it ring: too many died on the way.";
    if (step.otherNote * 3 >= step.counted && step.otherNote > 0)
        return kind.overFrets ? "Look at the fret you are going to before you leave the first one."
                              : "Hear the target first: fret it, then bend until both sound the same.";
    if (kind.overFrets) {
        if (step.typicalLinger && step.typicalLinger->value > longLinger)
            return "Leave the first note at once: it is only the way in.";
        return step.inside * 5 >= step.counted * 4 ? "Go on to the next drill, or play this one from another fret."
                                                   : "Slower first: arrive on the fret, then let it ring.";
    }
    if (!step.typicalError) return "Play it once more.";
    const double typical = step.typicalError->value, size = step.typicalMiss->value;
    const bool oneSided = std::abs(typical) >= 8.0 && std::abs(typical) >= 0.5 * size;
    if (oneSided && kind.bends && kind.course == Course::falls)
        return typical > 0.0 ? "Let the string come all the way home: you stop above the note."
                             : "Let the string go straight home: the note ends low.";
    if (oneSided)
        return fmt::format("{} by about {:.0f}: {}.", typical < 0.0 ? "You stop short" : "You go past",
                           std::abs(typical),
                           typical < 0.0 ? "push a little further before you hold" : "ease off a little earlier");
    if (size > aim.value)
        return "The middle is right, the tries scatter: go slower, and hear the target before each one.";
    if (step.inside * 5 >= step.counted * 4) return "Go on to the next drill, or play this one at another place.";
    return "Nearly there: once more, at the same pace.";
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
                         .words = {"Nothing played", ""},
                         .nextStep = "Take the first try when you are ready."};
    if (summary.gestures.empty()) return summary;
    summary.words = wordsOf(summary.gestures, aim);
    summary.nextStep = "Damp the other strings, and let the note ring clearly.";
    std::optional<GestureTally> worst;
    for (const Tally& step : steps)
        for (const GestureTally& played : step.gestures())
            if (played.counted > 0 && (!worst || played.shareInside() < worst->shareInside())) worst = played;
    if (worst) summary.nextStep = adviceFor(*worst, aim);
    return summary;
}

}  // namespace landfall
