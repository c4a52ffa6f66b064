#include "src/practice/move_finder.h"

#include <algorithm>
#include <cmath>
#include <utility>

#include "dsp/statistics.h"
#include "src/practice/bend_or_slide.h"
#include "src/practice/verdict.h"

namespace landfall {

namespace {

constexpr double longestKept = 60.0;  // s: no try is told later
constexpr double longestTold = 3.0;   // s of a note in which the asked string is looked for beside another

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

bool MoveFinder::Joined::goesOnWith(const Move& asked, const Note& other) const {
    const auto& points = other.points();
    return move == asked && of.number == other.number && of.onset == other.onset && taken <= points.size()
           && (taken == 0 || (points[taken - 1].time == last.time && points[taken - 1].cents == last.cents));
}

// What has been read out of this one, else the beginning.
MoveFinder::Joined& MoveFinder::joinedOf(const Move& move, const Note& of, const Note& before) const {
    constexpr std::size_t kept = 4;  // the note in either stream, for the try's next step and for a new try
    auto found = slides.end();
    for (auto each = slides.begin(); each != slides.end(); ++each)
        if (each->goesOnWith(move, of) && (found == slides.end() || each->taken > found->taken)) found = each;
    if (found == slides.end()) {
        if (slides.size() == kept) slides.erase(slides.begin());
        found = slides.insert(slides.end(), {.move = move, .of = of.unheard(), .note = before.unheard()});
    }
    found->note.end = of.end;
    found->note.cutByStroke = of.cutByStroke;
    found->note.heardUntil = of.heardUntil;
    return *found;
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
    Joined& joined = joinedOf(move, of, before);
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

std::optional<MidiPitch> MoveFinder::struckBeside(const Note& of, std::size_t move) const {
    return of.struck ? beside.atStroke(of.onset, moves[move].struckNote()) : std::nullopt;
}

// Not counted, and without numbers: they were read from two strings.
FoundStep MoveFinder::twoStrings(const FoundStep& step, MidiPitch other) {
    Landing rang;
    rang.moveNumber = step.landing.moveNumber, rang.move = step.landing.move, rang.target = step.landing.target;
    rang.note = step.landing.note, rang.tryNumber = step.landing.tryNumber;
    rang.onset = step.landing.onset, rang.end = step.landing.end;
    rang.verdict = Verdict::twoStrings;
    rang.beside = other;
    rang.sentence = sentenceOf(rang, 0.0);
    return {step.move, rang, 0};
}

std::vector<FoundStep> MoveFinder::second(const Note& of, std::size_t move, const Note* before) const {
    if (!of.end || (before && of.onset - before->onset < config.runOfNotes)) return {};
    const auto other = struckBeside(of, move);
    // the tracker may have lost what sounds on
    const double until = of.cutByStroke ? *of.end : of.onset + longestTold;
    if (!other || !beside.moved(of.onset, until, moves[move], *other)) return {};
    FoundStep step{move, {}, 0};
    step.landing.moveNumber = static_cast<int>(move) + 1;
    step.landing.move = moves[move];
    step.landing.target = targets.of(moves[move]).kind;
    step.landing.note = step.landing.tryNumber = of.number;
    step.landing.onset = Seconds(of.onset);
    step.landing.end = Seconds(*of.end);
    return {twoStrings(step, *other)};
}

std::optional<BesideEar::Other> MoveFinder::besideLanding(const Landing& landing) const {
    const auto [entry, isNew] = told.try_emplace({landing.onset.value, landing.moveNumber});
    if (!isNew) return entry->second;
    const double arrival = landing.landingTime->value;
    const HeldTarget target = targets.of(landing.move);
    entry->second = beside.atHold(landing.onset.value, arrival + config.judge.landingFrom,
                                  std::min(arrival + config.judge.landingTo, landing.end.value),
                                  MidiPitch((target.cents + landing.landingError->value) / 100.0), landing.move.from);
    return entry->second;
}

void MoveFinder::lookBeside(std::vector<FoundStep>& steps, double now, bool over) const {
    told.erase(told.begin(), told.lower_bound({now - longestKept, 0}));
    for (std::size_t i = 0; i < steps.size(); ++i) {
        Landing& landing = steps[i].landing;
        if (!steps[i].landed()) {
            // Nothing could be measured, it may be because of another string.
            const auto other = landing.verdict == Verdict::notMeasurable || landing.verdict == Verdict::died
                                   ? beside.atStroke(landing.onset.value, landing.move.struckNote())
                                   : std::nullopt;
            if (other) steps[i] = twoStrings(steps[i], *other);
            continue;
        }
        if (!over && landing.landingTime->value + config.judge.landingTo > now) return;
        const auto other = besideLanding(landing);
        if (!other) continue;
        if (other->asLoud) {
            steps[i] = twoStrings(steps[i], other->note);
            steps.resize(i + 1);
            return;
        }
        landing.beside = other->note;
        landing.sentence.append(" ").append(besideSentence(other->note));
    }
}

}  // namespace landfall
