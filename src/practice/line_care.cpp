#include "src/practice/line_care.h"

#include <algorithm>
#include <utility>

namespace landfall {

namespace {

constexpr int triesOfASet = 6;  // a drill's set

}  // namespace

LineCare::LineCare(Config given, const Line& line, Seconds now)
    : config(std::move(given)), clock(now), lastPlayed(now) {
    const Seconds warmUp = warmUpDue(line, config.load, config.limits);
    if (warmUp.value > 0.0) current = {LinePhase::warmUp, warmUp, "Easy fretting first, then half steps."};
    else go(line);
}

// What is due before the next pass.
void LineCare::go(const Line& line) {
    current = {};
    if (auto enough = sittingReason(line, config.load, config.firstMonth, config.limits))
        current = {LinePhase::done, {}, std::move(*enough)};
    else if (const Seconds rest = restBefore(line, config.load, config.limits); rest.value > 0.0)
        current = {LinePhase::resting, rest, {}};
}

void LineCare::tick(Seconds now) {
    const Seconds step = std::max(Seconds(0.0), now - clock);
    clock = std::max(clock, now);
    const bool waits = current.phase == LinePhase::warmUp || current.phase == LinePhase::resting;
    const bool inHand = current.phase == LinePhase::playing && clock - lastPlayed <= config.limits.handAway;
    if (waits || inHand) {
        config.load.played = config.load.played + step;
        config.load.sinceMinuteOff = config.load.sinceMinuteOff + step;
    }
    if (!waits) return;
    current.left = current.left - step;
    if (current.left.value > 0.0) return;
    if (current.phase == LinePhase::resting) addRest(config.load, config.limits.minuteOff, config.limits);
    current = {};
    lastPlayed = clock;
}

void LineCare::played(Seconds now) { lastPlayed = now; }

void LineCare::passOver(const Line& line, const LineMarks& marks, Seconds now) {
    lastPlayed = now;
    for (const LineMark& mark : marks.moves) {
        const Move& move = line.moves[mark.move].move;
        if (mark.outcome == Outcome::missed) continue;
        addMove(config.load, move, config.guitar);
        if (kindOf(move.gesture).bends || move.gesture == Gesture::slide) ++tries;
    }
    config.load.setsSinceMinuteOff += tries / triesOfASet;
    tries %= triesOfASet;
    go(line);
}

void LineCare::ask(const Line& line) {
    if (current.phase == LinePhase::playing || current.phase == LinePhase::done) go(line);
}

void LineCare::next() {
    if (current.phase == LinePhase::warmUp) {
        current = {};
        lastPlayed = clock;
    } else if (current.phase == LinePhase::resting) {
        current.message = "This minute off is for the hand: it goes on.";
    }
}

}  // namespace landfall
