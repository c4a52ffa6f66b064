#include "src/practice/move_finder.h"

#include <algorithm>
#include <cmath>

#include "dsp/statistics.h"
#include "src/practice/bend_or_slide.h"
#include "src/practice/verdict.h"

namespace landfall {

namespace {

constexpr double otherPitchSd = 4.0;  // cents: read from its period alone

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
        if (!findAttempt(move, nullptr, of, from, judging)) move.gesture = Gesture::slide;  // no hand bends so fast
        move.asHeard = false;
    } else {
        move.gesture = asked.direction() > 0.0 ? Gesture::bend : Gesture::release;
    }
    return move;
}

}  // namespace

bool MoveFinder::ReadOut::goesOnWith(const Move& asked, const Note& other) const {
    const auto& points = other.points();
    return move == asked && of.number == other.number && of.onset == other.onset && taken <= points.size()
           && (taken == 0 || (points[taken - 1].time == last.time && points[taken - 1].cents == last.cents));
}

// What has been read out of this one, else the beginning.
MoveFinder::ReadOut& MoveFinder::readOut(std::vector<ReadOut>& known, const Move& move, const Note& of,
                                         const Note& begin) const {
    constexpr std::size_t kept = 4;  // the note in either stream, for the try's next step and for a new try
    auto found = known.end();
    for (auto each = known.begin(); each != known.end(); ++each)
        if (each->goesOnWith(move, of) && (found == known.end() || each->taken > found->taken)) found = each;
    if (found == known.end()) {
        if (known.size() == kept) known.erase(known.begin());
        found = known.insert(known.end(), {.move = move, .of = of.unheard(), .note = begin});
    }
    found->note.end = of.end;
    found->note.cutByStroke = of.cutByStroke;
    found->note.heardUntil = of.heardUntil;
    return *found;
}

// The second string that rings beside a note's pitch, as a note of its own, within reach of the move. nullptr where it
// is hardly heard, or where the first does not stand meanwhile.
const Note* MoveFinder::secondOf(const Note& of, const Move& move) const {
    // of the frames: where the strings come to share a period, they are heard as one note
    constexpr double heardShare = 0.3;
    // cents: a string touched by the hand that bends the other, and what beating does to both
    constexpr double standsShare = 0.67, stands = 40.0;
    constexpr std::size_t least = 8;  // points
    if (of.twoStrings() < least) return nullptr;
    ReadOut& second = readOut(seconds, move, of, of.unheard());
    const auto [lowest, highest] = std::minmax({100.0 * move.from.value, 100.0 * move.to.value});
    for (; second.taken < of.points().size(); ++second.taken) {
        const PitchPoint& point = second.last = of.points()[second.taken];
        if (!point.other || point.otherNote <= PitchFrame::twoStrings.value) continue;
        if (*point.other < lowest - config.judge.furthestPast || *point.other > highest + config.judge.furthestPast)
            continue;
        second.beside.insert(std::upper_bound(second.beside.begin(), second.beside.end(), point.cents), point.cents);
        PitchPoint other = point;
        other.cents = *point.other;
        other.sd = otherPitchSd;
        second.note.add(other);
    }
    const std::vector<double>& first = second.beside;
    const auto frames = static_cast<double>(first.size());
    if (first.size() < least) return nullptr;
    const auto meanwhile = between(of.points(), of.points().front().time, second.note.points().back().time).size();
    if (frames < heardShare * static_cast<double>(meanwhile)) return nullptr;
    const double level = 0.5 * (first[(first.size() - 1) / 2] + first[first.size() / 2]);
    const auto standing =
        std::partition_point(first.begin(), first.end(), [&](double cents) { return cents - level < stands; })
        - std::partition_point(first.begin(), first.end(), [&](double cents) { return cents - level <= -stands; });
    return static_cast<double>(standing) < standsShare * frames ? nullptr : &second.note;
}

const Note* MoveFinder::slidInto(const Note& before, const Note& of, std::size_t k) const {
    // the next finger may sound before its stroke
    constexpr double leftBy = 60.0, within = 0.35, pause = 0.12, settles = 0.03, finger = 0.03;
    const Move& move = moves[k];
    if ((move.gesture != Gesture::slide && !move.asHeard) || !before.end || of.onset - *before.end > pause
        || before.points().size() < 8)
        return nullptr;
    const double from = 100.0 * move.from.value, to = 100.0 * move.to.value, way = move.direction();
    const auto start = before.start();
    const auto arrived = medianCents(of.points(), of.onset + settles, of.onset + settles + 0.06, 4);
    if (!start || std::abs(*start - from) > leftBy || !arrived || std::abs(*arrived - to) > std::abs(*arrived - from))
        return nullptr;
    bool left = false;
    for (auto point = before.points().rbegin(); point != before.points().rend() && point->time > *before.end - within;
         ++point)
        left = left || (point->time < *before.end - finger && way * (point->cents - *start) > leftBy);
    if (!left) return nullptr;
    ReadOut& joined = readOut(slides, move, of, before.unheard());
    if (joined.note.points().empty())
        for (const PitchPoint& point : before.points()) joined.note.add(point);
    for (; joined.taken < of.points().size(); ++joined.taken) {
        joined.last = of.points()[joined.taken];
        if (joined.last.time >= of.onset + settles) joined.note.add(joined.last);
    }
    return &joined.note;
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
    const Note* other = secondOf(of, moves[move]);
    return other && startsOn(*other, move);
}

std::vector<FoundStep> MoveFinder::second(const Note& of, std::size_t move, const Note* before) const {
    const Note* other = secondOf(of, moves[move]);
    if (!other || !startsOn(*other, move) || isOfRun(*other, before)) return {};
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
