#include "src/practice/move_follower.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

#include "dsp/statistics.h"
#include "src/practice/bend_or_slide.h"
#include "src/practice/verdict.h"

namespace landfall {

namespace {

bool contains(const std::vector<std::size_t>& list, std::size_t value) {
    return std::find(list.begin(), list.end(), value) != list.end();
}

constexpr double otherPitchSd = 4.0;  // cents: read from its period alone

// A shift slide that is picked again where it arrives is one note that begins at the first stroke. Before the second
// stroke the pitch must have left its place for the target by more than half a fret: two notes picked one after the
// other are no slide.
std::optional<Note> slidInto(const std::optional<Note>& before, const Note& of, const Move& move) {
    // the next finger may sound before its stroke
    constexpr double leftBy = 60.0, within = 0.35, pause = 0.12, settles = 0.03, finger = 0.03;
    if ((move.gesture != Gesture::slide && !move.asHeard) || !before || !before->end || of.onset - *before->end > pause
        || before->points().size() < 8)
        return std::nullopt;
    const double from = 100.0 * move.from.value, to = 100.0 * move.to.value, way = move.direction();
    const auto start = before->start();
    const auto arrived = medianCents(of.points(), of.onset + settles, of.onset + settles + 0.06, 4);
    if (!start || std::abs(*start - from) > leftBy || !arrived || std::abs(*arrived - to) > std::abs(*arrived - from))
        return std::nullopt;
    bool left = false;
    for (auto point = before->points().rbegin();
         point != before->points().rend() && point->time > *before->end - within; ++point)
        left = left || (point->time < *before->end - finger && way * (point->cents - *start) > leftBy);
    if (!left) return std::nullopt;
    Note joined = before->unheard();
    joined.end = of.end;
    joined.cutByStroke = of.cutByStroke;
    joined.heardUntil = of.heardUntil;
    for (const PitchPoint& point : before->points()) joined.add(point);
    for (const PitchPoint& point : of.points())
        if (point.time >= of.onset + settles) joined.add(point);
    return joined;
}

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
    const auto end = std::upper_bound(of.points().begin(), of.points().end(), second.points().back().time,
                                      [](double t, const PitchPoint& p) { return t < p.time; });
    if (static_cast<double>(first.size()) < heardShare * static_cast<double>(end - of.points().begin()))
        return std::nullopt;
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
        const auto first = std::lower_bound(of.points().begin(), of.points().end(), begin,
                                            [](const PitchPoint& p, double t) { return p.time < t; });
        const auto last =
            std::upper_bound(first, of.points().end(), end, [](double t, const PitchPoint& p) { return t < p.time; });
        move.gesture = bendOrSlide({first, last}, attempt->startLevel, stop.level);
        move.asHeard = false;
    } else {
        move.gesture = asked.direction() > 0.0 ? Gesture::bend : Gesture::release;
    }
    return move;
}

bool landed(const Landing& landing) { return landing.landingError.has_value(); }

int frettedNote(const Move& move) { return static_cast<int>(std::lround(move.frettedNote().value)); }

}  // namespace

void MoveFollower::setMoves(std::vector<Move> asked, MoveOrder how) {
    moves = std::move(asked);
    order = how;
    next = 0;
    current = {};
    current.struck = notes.note().has_value();  // what sounds now was not played for these moves
    heard.clear();
    lastTry = notes.now();
}

void MoveFollower::reset() {
    notes.reset();
    current = {};
    next = 0;
    before.reset();
    beforeMatched = false;
    heard.clear();
    lastTry = nextUntil = 0.0;
    lastEnded = 0;
    again = false;
    targets.forget();
    slips.clear();
}

std::optional<Cents> MoveFollower::fromTarget(Hertz pitch) const {
    if (next >= moves.size()) return std::nullopt;
    return Cents(100.0 * pitchOf(pitch, config.notes.a4).value - targets.of(moves[next]).cents);
}

// A stroke may begin the try's next step, or a new try.
std::vector<std::size_t> MoveFollower::candidates(const Note& of) const {
    if (current.locked) return {*current.locked};
    std::vector<std::size_t> list;
    if (next > 0 && next < moves.size() && of.onset < nextUntil) list.push_back(next);
    if (!moves.empty()) list.push_back(0);
    return list;
}

bool MoveFollower::startsOn(const Note& of, std::size_t move) const {
    const auto pitch = of.start();
    return pitch && std::abs(*pitch - 100.0 * moves[move].struckNote().value) <= config.judge.startTolerance;
}

// A stroke this soon after one on another pitch is one of a run, unless that one was a try.
bool MoveFollower::afterOther(const Note& of) const {
    if (!before || of.onset - before->onset >= config.runOfNotes) return false;
    const auto pitch = of.start(), other = before->start();
    return pitch && other && std::abs(*pitch - *other) > config.judge.startTolerance;
}

// A try's later step, on a stroke of its own, belongs to the try before it.
int MoveFollower::tryNumber(const Note& of, std::size_t move) const {
    return order == MoveOrder::everyTry && move > 0 ? lastEnded : of.number;
}

std::vector<MoveFollower::Step> MoveFollower::chain(const Note& of, std::size_t move, std::size_t from,
                                                    const JudgeConfig& judging) const {
    std::vector<Step> steps;
    for (std::size_t k = move; k < moves.size(); ++k) {
        if (k > move && !goesOn(moves[k - 1], moves[k])) break;
        const Move* after = k + 1 < moves.size() && goesOn(moves[k], moves[k + 1]) ? &moves[k + 1] : nullptr;
        const Move asked = toldFrom(moves[k], of, from, judging);
        const auto attempt = findAttempt(asked, after, of, from, judging);
        if (!attempt) break;
        Step step{k, {}, attempt->landing.value_or(0)};
        const HeldTarget target = targets.of(moves[k]);
        step.landing = judge(asked, of, *attempt, target.cents, judging);
        step.landing.moveNumber = static_cast<int>(k) + 1;
        step.landing.tryNumber = tryNumber(of, move);
        step.landing.target = target.kind;
        steps.push_back(step);
        if (!attempt->landing) break;
        from = *attempt->landing;
    }
    return steps;
}

bool MoveFollower::secondStartsOn(const Note& of, std::size_t move) const {
    const auto other = secondOf(of, moves[move], config.judge);
    return other && startsOn(*other, move);
}

// The string that was bent may be the one that the tracker hears second, beside an open neighbour struck along with it.
std::vector<MoveFollower::Step> MoveFollower::second(const Note& of, std::size_t move, bool run) const {
    const auto other = secondOf(of, moves[move], config.judge);
    if (!other) return {};
    if (!startsOn(*other, move) || (!run && afterOther(*other))) return {};
    auto steps = chain(*other, move, 0, config.judge);
    steps.resize(std::min<std::size_t>(steps.size(), 1));
    for (Step& step : steps) {
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

std::vector<MoveFollower::Step> MoveFollower::match(const Note& of, const JudgeConfig& judging) const {
    if (of.points().size() < 4 || moves.empty()) return {};
    const bool run = !beforeMatched && afterOther(of);
    std::vector<Step> tried;
    for (const std::size_t k : candidates(of)) {
        std::vector<Step> steps;
        if (startsOn(of, k)) {
            if (!run) steps = chain(of, k, 0, judging);
        } else if (const auto joined = beforeMatched ? std::nullopt : slidInto(before, of, moves[k])) {
            steps = chain(*joined, k, 0, judging);
        } else {
            steps = second(of, k, beforeMatched);
        }
        if (!steps.empty() && landed(steps.front().landing)) return steps;
        if (!steps.empty() && tried.empty()) tried = std::move(steps);
    }
    return tried;
}

void MoveFollower::strokeHeard(const Onset& stroke, int note) {
    events.emplace_back(PickStroke{stroke.available, stroke, note});
}

void MoveFollower::settled(const PitchFrame& frame) {
    notes.settled(frame);
    if (order == MoveOrder::everyTry && !moves.empty() && notes.now() - lastTry >= config.noTry) {
        lastTry = notes.now();
        events.emplace_back(NoTry{frame.available});
    }
}

// Whether the string has just been damped.
bool MoveFollower::fades(const Note& of) const {
    double loudest = -140.0;
    for (auto point = of.points().rbegin();
         point != of.points().rend() && point->time > of.points().back().time - config.earlyStop; ++point)
        loudest = std::max(loudest, point->level);
    return of.points().back().level < loudest - config.earlyFades;
}

// Whether the pitch has kept flat to the last point, for as long as a provisional word needs.
bool MoveFollower::hasStopped(const Note& of) const {
    const double end = of.points().back().time, third = config.earlyStop / 3.0;
    std::array<std::optional<double>, 3> levels;
    double noise = 0.0;
    for (std::size_t i = 0; i < levels.size(); ++i)
        levels[i] = medianCents(of.points(), end - third * (3.0 - static_cast<double>(i)),
                                end - third * (2.0 - static_cast<double>(i)));
    for (auto point = of.points().rbegin(); point != of.points().rend() && point->time > end - config.earlyStop;
         ++point)
        noise = std::max(noise, std::min(point->sd, 4.0));
    if (!levels[0] || !levels[1] || !levels[2]) return false;
    const auto [low, high] = std::minmax({*levels[0], *levels[1], *levels[2]});
    const double rose = *levels[1] - *levels[0], fell = *levels[1] - *levels[2];
    const bool turned = rose * fell > 0.0 && std::abs(fell) > config.earlyTurned * std::max(1.0, noise);
    return high - low <= config.earlyFlat + noise && !turned;
}

void MoveFollower::earlyGrew(const PitchFrame& frame) {
    if (order == MoveOrder::once || current.struck) return;
    const std::optional<Note>&note = notes.note(), &early = notes.early();
    if (note && std::abs(note->onset - early->onset) > 0.2) return;  // the settled stream is still with the note before
    JudgeConfig judging = config.judge;
    const bool stopped = frame.centre.value - early->onset < config.earlyEvery && hasStopped(*early);
    judging.stopLeastSounding = stopped ? config.earlyStop : config.earlyUneven;
    if ((!stopped && early->points().size() % 4 != 0) || fades(*early)) return;
    for (const Step& step : match(*early, judging)) {
        if (!landed(step.landing) || step.landing.correction || contains(current.provisional, step.move)
            || contains(current.final, step.move))
            continue;
        const double stayed = frame.centre.value - step.landing.landingTime->value;
        if (stayed < (step.landing.verdict == Verdict::wrongFret ? config.earlyElsewhere : config.earlySaid)) continue;
        const auto now = medianCents(early->points(), frame.centre.value - config.earlyStop / 3.0, frame.centre.value);
        if (!now
            || std::abs(*now - targets.of(moves[step.move]).cents
                        - step.landing.landingError.value_or(Cents(0.0)).value)
                   > config.earlyLeaves)
            continue;
        if (note && comesSlowly(note->points(), frame.centre.value, step.landing.move.direction(), config.judge))
            continue;
        current.provisional.push_back(step.move);
        events.emplace_back(ProvisionalLanding{frame.available, step.landing});
    }
}

void MoveFollower::noteGrew() {
    if (current.struck || order == MoveOrder::once) return;
    const Note& note = *notes.note();
    const double clock = notes.now();
    const std::vector<Step> steps = match(note, config.judge);
    if (current.number == 0 && !moves.empty()) {
        for (const std::size_t k : candidates(note)) {
            if ((!startsOn(note, k) && !secondStartsOn(note, k)) || (!beforeMatched && afterOther(note))) continue;
            current.number = tryNumber(note, k);
            lastTry = clock;
            events.emplace_back(TryBegan{Seconds(clock), Seconds(note.onset), note.number, current.number,
                                         static_cast<int>(k) + 1, current.again});
            break;
        }
    }
    if (current.number == 0 && !steps.empty()) current.number = steps.front().landing.tryNumber;
    for (const Step& step : steps) {
        if (!landed(step.landing)) break;
        const double arrival = step.landing.landingTime->value;
        const double wait = step.landing.vibrato ? config.judge.vibratoTo : config.judge.landingTo;
        if (!contains(current.final, step.move) && clock >= arrival + wait) {
            current.final.push_back(step.move);
            current.locked = steps.front().move;
            current.number = steps.front().landing.tryNumber;
            events.emplace_back(FinalLanding{Seconds(clock), step.landing});
        }
        if (contains(current.final, step.move) && !contains(current.ended, step.move)
            && clock >= arrival + config.judge.tryMost) {
            current.ended.push_back(step.move);
            ended(step);
        }
    }
}

// One note of many, unless something final was said of it: too short and landed nowhere or elsewhere, or cut by another
// stroke before it landed, or just after.
bool MoveFollower::isOrnament(const Note& over, const std::vector<Step>& steps) const {
    if (steps.empty() || current.locked) return false;
    const Landing& first = steps.front().landing;
    if (*over.end - over.onset < config.tryLeast && (!landed(first) || first.verdict == Verdict::otherInterval))
        return true;
    return over.cutByStroke && (!landed(first) || *over.end - first.landingTime->value < config.runOfNotes);
}

// A note that stands alone and began elsewhere than asked: the player waits for a word.
std::string MoveFollower::whyNone(const Note& over) const {
    const bool alone = over.struck && !over.cutByStroke && *over.end - over.onset >= config.aloneLeast
                       && (!before || over.onset - before->onset >= config.aloneLeast);
    if (!alone) return {};
    const auto pitch = over.start();
    const auto steps = candidates(over);
    if (!pitch || steps.empty()
        || std::any_of(steps.begin(), steps.end(), [&](std::size_t k) { return startsOn(over, k); }))
        return {};
    return notBegunSentence(moves[steps.front()], *pitch);
}

void MoveFollower::noteBegan() {
    current = {};
    current.again = again;
}

void MoveFollower::noteEnded(Note over, bool rings) {
    const Seconds clock(notes.now());
    if (rings && order == MoveOrder::everyTry && !moves.empty() && over.struck
        && (!before || over.onset - before->onset >= config.aloneLeast))
        events.emplace_back(Noodling{clock, over.number, "No clear pitch: do two strings ring?"});
    const Try said = std::exchange(current, {});
    if (order == MoveOrder::once) {
        if (!said.struck && over.points().size() >= 4) heard.push_back(std::move(over));
        return;
    }
    std::vector<Step> steps;
    if (!said.struck) {
        current = said;
        steps = match(over, config.judge);
        if (isOrnament(over, steps)) steps.clear();
        current = {};
        for (const Step& step : steps) {
            if (landed(step.landing) && !contains(said.final, step.move))
                events.emplace_back(FinalLanding{clock, step.landing});
            if (!contains(said.ended, step.move)) ended(step);
        }
        if (!steps.empty()) {
            const Step& last = steps.back();
            next = landed(last.landing) && last.move + 1 < moves.size() ? last.move + 1 : 0;
            nextUntil = *over.end + config.nextStepWithin;
        } else if (over.points().size() >= 20) {
            events.emplace_back(Noodling{clock, over.number, whyNone(over)});
        }
    }
    if (steps.empty()) targets.learnFret(over);
    beforeMatched = !steps.empty();
    again = over.cutByStroke && said.number > 0 && said.ended.empty() && !said.struck && !beforeMatched;
    before = std::move(over);
}

void MoveFollower::ended(const Step& step) {
    events.emplace_back(TryEnded{Seconds(notes.now()), step.landing});
    lastEnded = step.landing.tryNumber;
    lastTry = notes.now();
    learn(step);
}

void MoveFollower::learn(const Step& step) {
    const Move& move = step.landing.move;
    if (!step.landing.startError || (move.gesture != Gesture::bend && move.gesture != Gesture::slide)) return;
    const double error = step.landing.startError->value;
    if (std::abs(error) > config.judge.startTolerance) return;
    targets.learnStart(move, error);
    auto& row = slips[move.place ? move.place->string : -frettedNote(move)];
    if (std::abs(error) <= config.slipped || (!row.empty() && (row.back() > 0) != (error > 0))) row.clear();
    if (std::abs(error) > config.slipped) row.push_back(error);
    if (row.size() < 3) return;
    events.emplace_back(StringSlipped{Seconds(notes.now()),
                                      move.place ? std::optional(move.place->string) : std::nullopt,
                                      Cents(median({row.begin(), row.end()}))});
    row.clear();
}

void MoveFollower::finish() {
    notes.finish();
    if (order == MoveOrder::once) align();
}

// Lays the moves out over the notes, both in their order, so that as many as possible landed: a move that was not
// played does not take the note of the next one. Dynamic programming over the places where a move may begin: each
// note's stroke, and each of its later stays, where a stroke may have gone unheard.
void MoveFollower::align() {
    struct Place {
        std::size_t note = 0, stretch = 0;
        bool run = false;  // at the stroke: inside a run, unless the note before was a try
    };
    std::vector<Place> places;
    for (std::size_t n = 0; n < heard.size(); ++n) {
        const auto stretches = heard[n].stretches();
        before = n > 0 ? std::optional(heard[n - 1]) : std::nullopt;
        places.push_back({n, 0, afterOther(heard[n])});
        for (std::size_t i = 1; i < stretches.size(); ++i)
            if (stretches[i].stays()) places.push_back({n, i, false});
    }
    const auto stepsFrom = [&](const Place& at, std::size_t k, bool matched) -> std::vector<Step> {
        const Note& of = heard[at.note];
        if (at.stretch == 0) {
            if (startsOn(of, k)) return at.run && !matched ? std::vector<Step>{} : chain(of, k, 0, config.judge);
            const auto joined = matched || at.note == 0 ? std::nullopt : slidInto(heard[at.note - 1], of, moves[k]);
            if (!joined) return second(of, k, matched);
            auto steps = chain(*joined, k, 0, config.judge);
            steps.resize(std::min<std::size_t>(steps.size(), 1));  // the stretches after it are counted anew
            for (Step& step : steps) step.stop = 0;
            return steps;
        }
        if (std::abs(of.stretches()[at.stretch].level - 100.0 * moves[k].struckNote().value)
            > config.judge.startTolerance)
            return {};
        auto steps = chain(of, k, at.stretch, config.judge);
        if (!steps.empty() && !landed(steps.front().landing)) steps.clear();
        return steps;
    };
    // What a step is worth: landed as asked above landed elsewhere above tried. An unheard stroke is less likely than a
    // heard one.
    const auto worth = [](const Step& step) {
        if (!landed(step.landing)) return 1.0;
        return step.landing.verdict == Verdict::otherInterval || step.landing.verdict == Verdict::wrongFret ? 6.0
                                                                                                            : 10.0;
    };
    constexpr double unheard = 4.0;
    struct Choice {
        double worth = 0.0;
        std::size_t move = 0, steps = 0, nextPlace = 0;  // no steps: nothing begins here
    };
    const std::size_t rows = moves.size() + 1;
    std::vector<Choice> best((places.size() + 1) * rows * 2);
    const auto at = [&](std::size_t p, std::size_t k, bool matched) -> Choice& {
        return best[(p * rows + k) * 2 + (matched ? 1 : 0)];
    };
    for (std::size_t p = places.size(); p-- > 0;) {
        for (const bool matched : {false, true}) {
            const bool carried = places[p].stretch == 0 ? false : matched;  // a note that begins is no try yet
            std::vector<std::vector<Step>> found(moves.size());
            for (std::size_t k = 0; k < moves.size(); ++k) found[k] = stepsFrom(places[p], k, matched);
            for (std::size_t from = rows; from-- > 0;) {
                Choice choice{at(p + 1, from, carried).worth, 0, 0, p + 1};
                for (std::size_t k = from; k < moves.size(); ++k) {
                    double sum = places[p].stretch > 0 ? -unheard : 0.0;
                    for (std::size_t count = 1; count <= found[k].size(); ++count) {
                        const Step& step = found[k][count - 1];
                        sum += worth(step);
                        std::size_t following = p + 1;
                        while (following < places.size() && places[following].note == places[p].note
                               && places[following].stretch < step.stop)
                            ++following;
                        const double total = sum + at(following, k + count, true).worth;
                        // Of two that are worth the same, the earlier note and the earlier move.
                        if (total > choice.worth || (total == choice.worth && choice.steps == 0))
                            choice = {total, k, count, following};
                    }
                }
                at(p, from, matched) = choice;
            }
        }
    }
    const Seconds clock(notes.now());
    bool matched = false;
    for (std::size_t p = 0, k = 0; p < places.size();) {
        const Choice choice = at(p, k, matched);
        const Place& place = places[p];
        before = place.note > 0 ? std::optional(heard[place.note - 1]) : std::nullopt;
        if (choice.steps > 0) {
            auto steps = stepsFrom(place, choice.move, matched);  // again: targets have been learned meanwhile
            for (std::size_t i = 0; i < choice.steps && i < steps.size(); ++i) {
                const Landing& landing = steps[i].landing;
                events.emplace_back(
                    TryBegan{clock, landing.onset, landing.note, landing.tryNumber, landing.moveNumber, false});
                if (landed(landing)) events.emplace_back(FinalLanding{clock, landing});
                ended(steps[i]);
            }
            matched = true;
            k = choice.move + choice.steps;
        } else if (place.stretch == 0) {
            matched = false;
        }
        const bool over = choice.nextPlace >= places.size() || places[choice.nextPlace].note != place.note;
        if (over && !matched) {
            targets.learnFret(heard[place.note]);
            if (heard[place.note].points().size() >= 20) events.emplace_back(Noodling{clock, heard[place.note].number});
        }
        p = choice.nextPlace;
    }
    next = moves.size();
    heard.clear();
}

std::optional<int> MoveFollower::discardLast() {
    const bool sounds = notes.note() && current.number > 0 && !current.struck && current.ended.empty();
    const int striking = sounds ? current.number : lastEnded;
    if (striking == 0) return std::nullopt;
    if (lastEnded == striking) lastEnded = 0;
    if (notes.note() && current.number == striking) current.struck = true;  // nor what is still to come of it
    events.emplace_back(TryStruck{Seconds(notes.now()), striking});
    next = 0;
    return striking;
}

}  // namespace landfall
