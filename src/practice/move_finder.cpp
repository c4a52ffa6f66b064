#include "src/practice/move_finder.h"

#include <algorithm>
#include <cmath>

#include "dsp/statistics.h"
#include "src/practice/bend_or_slide.h"
#include "src/practice/verdict.h"

namespace landfall {

namespace {

constexpr double otherPitchSd = 4.0;  // cents: read from its period alone

// The second string that rings beside a note's pitch, as a note of its own, within reach of the move. Empty where it is
// hardly heard, or where the first does not stand meanwhile.
std::optional<Note> secondOf(const Note& of, const Move& move, const JudgeConfig& judging) {
    // of the frames: where the strings come to share a period, they are heard as one note
    constexpr double heardShare = 0.3;
    // cents: a string touched by the hand that bends the other, and what beating does to both
    constexpr double standsShare = 0.67, stands = 40.0;
    constexpr std::size_t least = 8;  // points
    if (of.twoStrings() < least) return std::nullopt;
    Note second = of.unheard();
    std::vector<double> first;
    const auto [lowest, highest] = std::minmax({100.0 * move.from.value, 100.0 * move.to.value});
    for (const PitchPoint& point : of.points()) {
        if (!point.other || point.otherNote <= PitchFrame::twoStrings.value) continue;
        if (*point.other < lowest - judging.furthestPast || *point.other > highest + judging.furthestPast) continue;
        first.push_back(point.cents);
        PitchPoint beside = point;
        beside.cents = *point.other;
        beside.sd = otherPitchSd;
        second.add(beside);
    }
    if (second.points().size() < least) return std::nullopt;
    const auto meanwhile = between(of.points(), of.points().front().time, second.points().back().time).size();
    if (static_cast<double>(first.size()) < heardShare * static_cast<double>(meanwhile)) return std::nullopt;
    const double level = median(first);
    const auto standing =
        std::count_if(first.begin(), first.end(), [&](double cents) { return std::abs(cents - level) < stands; });
    if (static_cast<double>(standing) < standsShare * static_cast<double>(first.size())) return std::nullopt;
    return second;
}

// The move as it was played, where it was asked for without a gesture. One that did not land keeps its question.
Move toldFrom(const Move& asked, const Note& of, std::size_t from, const JudgeConfig& judging) {
    Move move = asked;
    if (!asked.asHeard) return move;
    move.gesture = Gesture::slide;  // whose rules let frets pass
    const auto attempt = findAttempt(move, nullptr, of, from, judging);
    if (attempt && attempt->stop) {
        const auto stretches = of.stretches();
        const Stretch& stop = stretches[*attempt->stop];
        const double begin = attempt->start ? stretches[*attempt->start].begin : of.onset + judging.struckSettles,
                     end = std::min(stop.begin + 0.05, stop.end);
        move.gesture = bendOrSlide(between(of.points(), begin, end), attempt->startLevel, stop.level);
        move.asHeard = false;
    } else {
        move.gesture = asked.direction() > 0.0 ? Gesture::bend : Gesture::release;
    }
    return move;
}

}  // namespace

std::optional<Note> slidInto(const Note& before, const Note& of, const Move& move) {
    // the next finger may sound before its stroke
    constexpr double leftBy = 60.0, within = 0.35, pause = 0.12, settles = 0.03, finger = 0.03;
    if ((move.gesture != Gesture::slide && !move.asHeard) || !before.end || of.onset - *before.end > pause
        || before.points().size() < 8)
        return std::nullopt;
    const double from = 100.0 * move.from.value, to = 100.0 * move.to.value, way = move.direction();
    const auto start = before.start();
    const auto arrived = medianCents(of.points(), of.onset + settles, of.onset + settles + 0.06, 4);
    if (!start || std::abs(*start - from) > leftBy || !arrived || std::abs(*arrived - to) > std::abs(*arrived - from))
        return std::nullopt;
    bool left = false;
    for (auto point = before.points().rbegin(); point != before.points().rend() && point->time > *before.end - within;
         ++point)
        left = left || (point->time < *before.end - finger && way * (point->cents - *start) > leftBy);
    if (!left) return std::nullopt;
    Note joined = before.unheard();
    joined.end = of.end;
    joined.cutByStroke = of.cutByStroke;
    joined.heardUntil = of.heardUntil;
    for (const PitchPoint& point : before.points()) joined.add(point);
    for (const PitchPoint& point : of.points())
        if (point.time >= of.onset + settles) joined.add(point);
    return joined;
}

bool MoveFinder::startsOn(const Note& of, std::size_t move) const {
    const auto pitch = of.start();
    return pitch && std::abs(*pitch - 100.0 * moves[move].struckNote().value) <= config.judge.startTolerance;
}

bool MoveFinder::isOfRun(const Note& of, const Note* before) const {
    if (!before || of.onset - before->onset >= config.runOfNotes) return false;
    const auto pitch = of.start(), other = before->start();
    return pitch && other && std::abs(*pitch - *other) > config.judge.startTolerance;
}

std::vector<FoundStep> MoveFinder::chain(const Note& of, std::size_t move, std::size_t from,
                                         const JudgeConfig& judging) const {
    std::vector<FoundStep> steps;
    for (std::size_t k = move; k < moves.size(); ++k) {
        if (k > move && !goesOn(moves[k - 1], moves[k])) break;
        const Move* after = k + 1 < moves.size() && goesOn(moves[k], moves[k + 1]) ? &moves[k + 1] : nullptr;
        const Move asked = toldFrom(moves[k], of, from, judging);
        const auto attempt = findAttempt(asked, after, of, from, judging);
        if (!attempt) break;
        FoundStep step{k, {}, attempt->landing.value_or(0)};
        const HeldTarget target = targets.of(moves[k]);
        step.landing = judge(asked, of, *attempt, target.cents, judging);
        step.landing.moveNumber = static_cast<int>(k) + 1;
        step.landing.target = target.kind;
        steps.push_back(step);
        if (!attempt->landing) break;
        from = *attempt->landing;
    }
    return steps;
}

std::optional<Move> MoveFinder::lackingTarget() const {
    const auto lacks = [this](const Move& move) { return targets.lacks(move); };
    const auto found = std::find_if(moves.begin(), moves.end(), lacks);
    return found != moves.end() ? std::optional(*found) : std::nullopt;
}

bool MoveFinder::secondStartsOn(const Note& of, std::size_t move) const {
    const auto other = secondOf(of, moves[move], config.judge);
    return other && startsOn(*other, move);
}

std::vector<FoundStep> MoveFinder::second(const Note& of, std::size_t move, const Note* before) const {
    const auto other = secondOf(of, moves[move], config.judge);
    if (!other) return {};
    if (!startsOn(*other, move) || isOfRun(*other, before)) return {};
    auto steps = chain(*other, move, 0, config.judge);
    steps.resize(std::min<std::size_t>(steps.size(), 1));
    for (FoundStep& step : steps) {
        Landing rang;
        rang.moveNumber = step.landing.moveNumber, rang.move = step.landing.move, rang.target = step.landing.target;
        rang.note = step.landing.note, rang.tryNumber = step.landing.tryNumber;
        rang.onset = step.landing.onset, rang.end = step.landing.end;
        rang.verdict = Verdict::twoStrings;
        rang.sentence = sentenceOf(rang, 0.0);
        step = {step.move, rang, 0};
    }
    return steps;
}

}  // namespace landfall
