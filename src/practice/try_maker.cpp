#include "src/practice/try_maker.h"

#include <cmath>

namespace landfall {

void TryMaker::strokeHeard(const Onset& stroke, int note) { tell(PickStroke{stroke.available, stroke, note}); }

std::optional<int> TryMaker::strike(int number) {
    if (number == 0) return std::nullopt;
    if (lastEnded == number) lastEnded = 0;
    tell(TryStruck{now(), number});
    return number;
}

void TryMaker::ended(const FoundStep& step) {
    tell(TryEnded{now(), step.landing});
    lastEnded = step.landing.tryNumber;
    const Move& move = step.landing.move;
    if (!step.landing.startError || (move.gesture != Gesture::bend && move.gesture != Gesture::slide)) return;
    const Cents error = *step.landing.startError;
    if (abs(error).value <= around.finder.judging().startTolerance) around.finder.targets.learnStart(move, error);
}

}  // namespace landfall
