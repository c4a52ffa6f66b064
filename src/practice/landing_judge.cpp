#include "src/practice/landing_judge.h"

#include <algorithm>
#include <cmath>

#include "dsp/statistics.h"
#include "src/practice/verdict.h"

namespace landfall {

namespace {

using Stretches = std::span<const Stretch>;

double meanLevel(Points points) {
    double sum = 0.0;
    for (const PitchPoint& p : points) sum += p.level;
    return points.empty() ? -140.0 : sum / static_cast<double>(points.size());
}

// 1.4826 times the median absolute deviation: the standard deviation of a normal distribution (Hampel 1974).
double robustSpread(Points points, double level) {
    if (points.empty()) return 0.0;
    std::vector<double> cents;
    for (const PitchPoint& p : points) cents.push_back(p.cents);
    return 1.4826 * medianDeviation(std::move(cents), level);
}

// Whether the pitch still goes its way, up (1) or down (-1), by more than its noise.
bool creeps(Points points, double way, const JudgeConfig& config) {
    if (points.size() < 5) return false;
    double sd = 0.0;
    for (const PitchPoint& p : points) sd += p.sd / static_cast<double>(points.size());
    const double length = points.back().time - points.front().time;
    return way * trendOf(points).slope > config.creepSlope + 2.0 * sd * std::sqrt(12.0) / length;
}

std::optional<std::size_t> nextStay(Stretches stretches, std::size_t i) {
    for (std::size_t k = i + 1; k < stretches.size(); ++k)
        if (stretches[k].stays()) return k;
    return std::nullopt;
}

// Whether a stay on the way up (1) or down (-1) is only the turn of an overshoot, a fret that a slide passes, or a
// piece of a slow approach.
bool passing(const Note& note, Stretches stretches, std::size_t i, double way, const JudgeConfig& config) {
    const Stretch& stay = stretches[i];
    if (stay.state == StretchState::vibrato) return false;
    const auto following = nextStay(stretches, i);
    if (stay.length() >= (following || note.end ? config.stopLeast : config.stopLeastSounding)) {
        if (way * trendOf(between(note.points(), stay.begin - config.creepFor, stay.begin)).slope > config.creepFastest)
            return false;
        if (!following)
            return !note.end
                   && creeps(between(note.points(), std::max(stay.end - config.creepFor, stay.begin), stay.end), way,
                             config);
        const Stretch& on = stretches[*following];
        const auto goesOn = [&](double longest) {
            return creeps(between(note.points(), stay.begin, std::min(stay.begin + longest, stay.end)), way, config);
        };
        return on.state == StretchState::plateau && on.begin - stay.end < config.overshootSettles
               && way * (on.level - stay.level) > 0.0 && (goesOn(config.creepFor) || goesOn(config.creepLongest));
    }
    for (std::size_t k = i + 1; k < stretches.size() && stretches[k].begin - stay.end < config.overshootSettles; ++k)
        if (stretches[k].stays() && stretches[k].length() >= config.stopLeastAtEnd) return true;
    if (following) return false;
    return note.end ? stay.length() < config.stopLeastAtEnd : true;  // still sounding: wait
}

// A plateau and the vibrato that grows out of it, or a plateau that crept: the same place of the hand.
bool samePlace(const Stretch& a, const Stretch& b, const JudgeConfig& config) {
    if (a.state == StretchState::vibrato || b.state == StretchState::vibrato) {
        const Stretch& shaken = a.state == StretchState::vibrato ? a : b;
        const Stretch& other = a.state == StretchState::vibrato ? b : a;
        return other.level >= shaken.bottom - config.correctionLeast
               && other.level <= shaken.top + config.correctionLeast;
    }
    return std::abs(a.level - b.level) < config.correctionLeast;
}

// The last stretch of the stay that begins with `i`: vibrato and slow creeping included.
std::size_t lastOfPlace(Stretches stretches, std::size_t i, const JudgeConfig& config) {
    while (const auto next = nextStay(stretches, i)) {
        const double gap = stretches[*next].begin - stretches[i].end;
        const bool crept =
            gap < 0.01 && std::abs(stretches[*next].level - stretches[i].level) < 2.0 * config.correctionLeast;
        if (gap > config.overshootSettles || (!crept && !samePlace(stretches[i], stretches[*next], config))) break;
        i = *next;
    }
    return i;
}

bool fitsNext(const Move* next, double startLevel, double level, const JudgeConfig& config) {
    if (!next || kindOf(next->gesture).fromStroke) return false;
    const double span = 100.0 * next->width();
    const double progress = (level - startLevel) / span;
    return progress >= config.landedShare && progress * std::abs(span) >= config.landedLeast;
}

// A slide's stay on a fret past the one asked, from which it goes back.
bool shotPast(const Move& move, Stretches stretches, std::size_t i, const JudgeConfig& config) {
    const double direction = move.direction(), target = 100.0 * move.to.value;
    if (direction * (stretches[i].level - target) < config.slideShot) return false;
    const auto next = nextStay(stretches, i);
    return next && stretches[*next].begin - stretches[i].begin < config.correctionWithin
           && std::abs(stretches[*next].level - target) < config.slideShot;
}

// A slow slide's stay on a fret before the one asked, from which it goes on.
bool passedFret(const Move& move, Stretches stretches, std::size_t i, const JudgeConfig& config) {
    const double direction = move.direction(), target = 100.0 * move.to.value;
    if (direction * (target - stretches[i].level) < config.slideShot || stretches[i].length() >= config.slidePause)
        return false;
    const auto next = nextStay(stretches, i);
    return next && stretches[*next].begin - stretches[i].end < config.overshootSettles
           && direction * (stretches[*next].level - stretches[i].level) > config.slideShot;
}

// How long the pitch took from a fifth to four fifths of the way between two levels, looking back from the second.
double riseAcross(Points points, double from, double to, double begin, double end) {
    const Points way = between(points, begin, end);
    const auto through = [&](double share) {
        return lastThrough(way, from + share * (to - from), to > from ? 1.0 : -1.0);
    };
    return through(0.8).value_or(end) - through(0.2).value_or(begin);
}

// How far past its stop the pitch came on the way there, by three points in a row: one alone is the tracker's.
double furthestPast(Points way, double direction, double stop) {
    double furthest = 0.0;
    for (std::size_t i = 2; i < way.size(); ++i)
        furthest =
            std::max(furthest, std::min({direction * (way[i - 2].cents - stop), direction * (way[i - 1].cents - stop),
                                         direction * (way[i].cents - stop)}));
    return furthest;
}

// How long a stay is heard: a string being damped falls by 6 dB within a few hundredths of a second.
double soundsFor(const Note& note, const Stretch& stay, const JudgeConfig& config) {
    const Points inside = between(note.points(), stay.begin, stay.end);
    double last = stay.begin;
    for (const PitchPoint& p : inside)
        if (p.level > inside.front().level - config.soundingLevel / 2.0) last = p.time;
    return last - stay.begin;
}

// What a room keeps of a string that was damped.
bool faded(const Note& note, Points inside, const JudgeConfig& config) {
    return meanLevel(inside) < note.loudest() - config.soundingLevel;
}

// Looks for a correction after the first stop, and moves the landing there.
void pullIn(const Move& move, const Move* next, const Note& note, Stretches stretches, Attempt& attempt,
            const JudgeConfig& config) {
    const double target = 100.0 * move.to.value;
    std::size_t at = *attempt.stop;
    const double arrived = stretches[at].begin;
    while (const auto k = nextStay(stretches, at)) {
        const Stretch &before = stretches[*attempt.landing], &after = stretches[*k];
        if (after.begin - arrived > config.correctionWithin + config.stopLeast
            || faded(note, between(note.points(), after.begin, after.end), config))
            break;
        at = *k;
        if (samePlace(before, after, config)
            || passing(note, stretches, *k, after.level >= before.level ? 1.0 : -1.0, config))
            continue;
        const double was = before.level - target, is = after.level - target;
        const bool nearer = std::abs(is) < std::abs(was) || (was * is < 0.0 && std::abs(is) < config.startTolerance);
        if (!nearer || std::abs(after.level - before.level) < config.correctionLeast
            || fitsNext(next, before.level, after.level, config))
            break;
        attempt.landing = *k;
    }
}

// A move that begins with its stroke: the first stay that is long enough.
std::optional<Attempt> fromStroke(const Move& move, const Move* next, const Note& note, Stretches stretches,
                                  std::size_t from, const JudgeConfig& config) {
    Attempt attempt;
    for (std::size_t i = from; i < stretches.size(); ++i) {
        if (move.gesture == Gesture::vibrato ? stretches[i].state != StretchState::vibrato : !stretches[i].stays())
            continue;
        if (stretches[i].length() < config.stopLeast && !(note.end && stretches[i].length() >= config.stopLeastAtEnd))
            continue;
        attempt.start = attempt.stop = attempt.landing = i;
        attempt.startLevel = 100.0 * move.from.value;
        if (move.gesture == Gesture::preBend) pullIn(move, next, note, stretches, attempt, config);
        return attempt;
    }
    return std::nullopt;
}

// Where a move begins. False: too early to say.
bool findStart(const Move& move, const Note& note, Stretches stretches, std::size_t from, Attempt& attempt,
               const JudgeConfig& config) {
    for (std::size_t i = from; i < stretches.size() && !attempt.start; ++i)
        if (stretches[i].stays()) attempt.start = i;
    const auto pitch = note.start();
    if (!pitch && !attempt.start) return false;
    // A note that moves at once has no plateau to leave: its first stay is where it came to.
    if (from == 0 && attempt.start && pitch
        && std::abs(stretches[*attempt.start].level - 100.0 * move.from.value) > config.startTolerance)
        attempt.start.reset();
    attempt.startLevel = attempt.start ? stretches[*attempt.start].level : pitch.value_or(100.0 * move.from.value);
    if (!attempt.start && std::abs(attempt.startLevel - 100.0 * move.from.value) > config.startTolerance)
        attempt.startLevel = 100.0 * move.from.value;
    return true;
}

// How far a move may go, as a share of its interval, and still be this move.
double mostOf(const Move& move, const JudgeConfig& config) {
    return 1.0 + std::max(0.5, config.furthestPast / std::abs(100.0 * move.width()));
}

// The first place it comes to that is far enough on its way, from stretch `search` on.
std::optional<std::size_t> firstStop(const Move& move, const Note& note, Stretches stretches, std::size_t search,
                                     double startLevel, const JudgeConfig& config) {
    const double span = 100.0 * move.width(), way = move.direction(), most = mostOf(move, config);
    const double share = std::abs(span) > config.slideShortest && kindOf(move.gesture).overFrets
                             ? std::max(config.landedShare, 1.0 - config.slideShortest / std::abs(span))
                             : config.landedShare;
    for (std::size_t i = search; i < stretches.size(); ++i) {
        const Stretch& stay = stretches[i];
        const double progress = (stay.level - startLevel) / span;
        if (!stay.stays() || passing(note, stretches, i, way, config) || progress < share
            || progress * std::abs(span) < config.landedLeast || progress > most)
            continue;
        if (progress < config.diedShare && !note.cutByStroke && note.end.value_or(note.heardUntil) - stay.end < 0.06
            && soundsFor(note, stay, config) < config.diedWithin)
            continue;
        if (kindOf(move.gesture).overFrets
            && (shotPast(move, stretches, i, config) || passedFret(move, stretches, i, config)))
            continue;
        return i;
    }
    return std::nullopt;
}

// Whether a move that came to no stop was tried at all: it went some way, after the stroke, and no other finger played.
bool wasTried(const Move& move, const Note& note, Stretches stretches, const Attempt& attempt,
              const JudgeConfig& config) {
    const double span = 100.0 * move.width(), way = move.direction();
    const double begin = attempt.start ? stretches[*attempt.start].end : note.onset + 0.03;
    double furthest = 0.0, back = 0.0;
    for (const PitchPoint& p : between(note.points(), begin, 1e9)) {
        if (p.level <= note.loudest() - config.soundingLevel) continue;
        const double gone = way * (p.cents - attempt.startLevel);
        furthest = std::max(furthest, gone);
        back = std::max(back, -gone);
    }
    if (begin < note.onset + config.triedAfter) return false;
    if (kindOf(move.gesture).bends && (back > config.bendBackMost || furthest > mostOf(move, config) * std::abs(span)))
        return false;
    return furthest >= std::max(config.triedShare * std::abs(span), config.triedLeast);
}

// Whether a hand could have bent there: no jump, no finger further on or behind.
bool isBent(const Move& move, const Note& note, Stretches stretches, const Attempt& attempt,
            const JudgeConfig& config) {
    const double way = move.direction();
    const Stretch& stop = stretches[*attempt.stop];
    const double begin = attempt.start ? stretches[*attempt.start].begin : note.onset + config.struckSettles;
    if (attempt.start
        && riseAcross(note.points(), attempt.startLevel, stop.level, begin, std::min(stop.begin + 0.03, stop.end))
               < config.bendFastest)
        return false;
    const Points before = between(note.points(), begin, stop.begin);
    return furthestPast(before, way, stop.level) <= config.bendShotMost
           && furthestPast(before, -way, attempt.startLevel) <= config.bendBackMost;
}

}  // namespace

bool comesSlowly(std::span<const PitchPoint> points, double now, double way, const JudgeConfig& config) {
    if (points.empty()) return false;
    const double end = points.back().time, window = config.slowsOver;
    const double last = way * trendOf(between(points, end - window, end)).slope;
    const double before = way * trendOf(between(points, end - 2.0 * window, end - window)).slope;
    const double onward = last + (last - before) * (now - end + window / 2.0) / window;
    return last < config.creepFastest && onward > config.creepSlope;
}

std::optional<Attempt> findAttempt(const Move& move, const Move* next, const Note& note, std::size_t from,
                                   const JudgeConfig& config) {
    const Stretches stretches = note.stretches();
    if (kindOf(move.gesture).fromStroke) return fromStroke(move, next, note, stretches, from, config);
    Attempt attempt;
    if (!findStart(move, note, stretches, from, attempt, config)) return std::nullopt;
    const std::size_t search = attempt.start ? *attempt.start + 1 : from;
    attempt.stop = attempt.landing = firstStop(move, note, stretches, search, attempt.startLevel, config);
    if (!attempt.stop) return wasTried(move, note, stretches, attempt, config) ? std::optional(attempt) : std::nullopt;
    if (kindOf(move.gesture).bends && !isBent(move, note, stretches, attempt, config)) return std::nullopt;
    pullIn(move, next, note, stretches, attempt, config);
    return attempt;
}

namespace {

struct Hold {
    double arrival = 0.0;
    double level = 0.0;  // the landing
    double firstStop = 0.0;
    double until = 0.0;  // the next event
    double doubt = 0.0;
    bool measured = false;
    std::optional<Stretch> vibrato;
};

// Interpolated moment of the last entry into the band, looking back from inside the stay.
double lastEntry(Points points, double inside, double earliest, double level, double band) {
    const Points before = between(points, earliest, inside);
    for (std::size_t i = before.size(); i-- > 1;) {
        const double here = std::abs(before[i].cents - level), there = std::abs(before[i - 1].cents - level);
        if (here > band) return before[i].time;
        if (there > band) {
            const double share = (there - band) / (there - here);
            return before[i - 1].time + share * (before[i].time - before[i - 1].time);
        }
    }
    return before.empty() ? inside : before.front().time;
}

// A bend that comes in slowly has arrived where it has come to rest, not where it enters the band; any other at
// `arrival`.
double restAfter(Points points, double arrival, double way, double until, const JudgeConfig& config) {
    const auto speed = [&](double from) { return way * trendOf(between(points, from, from + config.creepFor)).slope; };
    const double came = speed(arrival - config.creepFor), latest = std::max(arrival, until - config.creepFor);
    if (came < config.creepSlope || came > config.creepFastest) return arrival;
    for (const PitchPoint& p : between(points, arrival, latest))
        if (speed(p.time) < config.creepSlope) return p.time;
    return latest;
}

// How far below the landing the note ends, after the hold and while it is still heard; 0 where it goes further than a
// hand loses.
double sankAfter(Points points, const Hold& hold, const JudgeConfig& config) {
    const Points after = between(points, hold.until, hold.arrival + config.holdMost);
    double last = hold.until;
    for (const PitchPoint& p : after) {
        if (p.level < after.front().level - config.soundingLevel / 2.0) break;
        last = p.time;
    }
    const auto end = medianCents(after, last - config.sagEnd, last);
    return end && hold.level - *end <= config.sagMost ? hold.level - *end : 0.0;
}

// Seconds of one cycle, near `guess`: the delay after which the pitch comes back the same, but for a steady drift.
// Turning points tell it less well, because the first ones still belong to the way here.
double cycleLength(Points points, double guess) {
    if (points.size() < 3) return guess;
    const double hop = (points.back().time - points.front().time) / static_cast<double>(points.size() - 1);
    const auto unlikeness = [&](std::size_t delay) {
        double sum = 0.0, squares = 0.0;
        const auto n = static_cast<double>(points.size() - delay);
        for (std::size_t i = 0; i + delay < points.size(); ++i) {
            const double change = points[i + delay].cents - points[i].cents;
            sum += change, squares += change * change;
        }
        return squares / n - (sum / n) * (sum / n);
    };
    const auto shortest = static_cast<std::size_t>(0.8 * guess / hop),
               longest = static_cast<std::size_t>(1.25 * guess / hop);
    if (shortest < 2 || longest + 2 > points.size() * 3 / 4) return guess;
    std::size_t best = shortest;
    for (std::size_t delay = shortest; delay <= longest; ++delay)
        if (unlikeness(delay) < unlikeness(best)) best = delay;
    if (best == shortest || best == longest) return guess;
    const double before = unlikeness(best - 1), here = unlikeness(best), after = unlikeness(best + 1);
    return hop * (static_cast<double>(best) + 0.5 * (before - after) / (before - 2.0 * here + after));
}

// Mean over time of the pitch, straight between frames.
double meanOver(Points points, double from, double to) {
    double area = 0.0, covered = 0.0;
    for (std::size_t i = 0; i + 1 < points.size(); ++i) {
        const double begin = std::max(from, points[i].time), end = std::min(to, points[i + 1].time);
        if (end <= begin) continue;
        const double slope = (points[i + 1].cents - points[i].cents) / (points[i + 1].time - points[i].time);
        area += (end - begin) * (points[i].cents + slope * (0.5 * (begin + end) - points[i].time));
        covered += end - begin;
    }
    return covered > 0.0 ? area / covered : 0.0;
}

// `steadyFirst`: so long a stay before a vibrato is read in its place, s.
Hold measureBy(double steadyFirst, const Move& move, const Note& note, Stretches stretches, std::size_t stop,
               double leaving, const JudgeConfig& config) {
    const Points points(note.points());
    Hold hold;
    const std::size_t last = lastOfPlace(stretches, stop, config);
    for (std::size_t i = stop; i <= last && !hold.vibrato; ++i)
        if (stretches[i].state == StretchState::vibrato) hold.vibrato = stretches[i];
    const double steady = hold.vibrato ? hold.vibrato->begin - stretches[stop].begin : 1e9;
    const bool shaken = hold.vibrato && (move.gesture == Gesture::vibrato || steady < steadyFirst);
    hold.until = stretches[last].end;
    const double firstEnd = shaken || !hold.vibrato ? hold.until : hold.vibrato->begin;
    const double depth = shaken ? (hold.vibrato->top - hold.vibrato->bottom) / 2.0 : 0.0;
    const double band = std::max(config.arrivalBand, config.vibratoBand * depth);
    const bool struck = kindOf(move.gesture).ownStroke && note.struck && stretches[stop].begin < note.onset + 0.25;
    hold.level = shaken ? hold.vibrato->level : stretches[stop].level;
    const double inside = std::min(stretches[stop].begin + config.stopLeastAtEnd, stretches[stop].end);
    double from = 0.0, to = 0.0;
    for (int round = 0; round < 3; ++round) {
        double arrival = lastEntry(points, inside, std::max(leaving, note.onset), hold.level, band);
        if (move.gesture == Gesture::vibrato) arrival = hold.vibrato->begin + 0.5 / hold.vibrato->rate;
        if (!shaken) arrival = restAfter(points, arrival, move.direction(), firstEnd, config);
        if (struck) arrival = std::max(arrival, note.onset + config.struckSettles);
        hold.arrival = arrival;
        if (shaken) {
            from = std::max(arrival + config.vibratoFrom,
                            move.gesture == Gesture::vibrato ? 0.0 : hold.vibrato->begin + 0.5 / hold.vibrato->rate);
            to = std::min(arrival + config.vibratoTo, hold.until);
            if (to - from < 1.0 / hold.vibrato->rate) from = std::max(arrival, to - 1.0 / hold.vibrato->rate);
            const double cycle = cycleLength(between(points, from, to), 1.0 / hold.vibrato->rate);
            hold.level = meanOver(points, from,
                                  from + cycle * std::max(1.0, std::floor((to - from) / cycle + config.vibratoSpare)));
        } else {
            from = arrival + config.landingFrom;
            to = std::min(arrival + config.landingTo, firstEnd);
            if (to - from < config.leastHold) from = std::max(arrival, to - config.leastHold);
            const auto median = medianCents(points, from, to);
            if (!median) return hold;
            hold.level = *median;
        }
    }
    const Points window = between(points, from, to);
    if (window.size() < 3) return hold;
    hold.firstStop =
        medianCents(points, hold.arrival + config.firstStopFrom, std::min(hold.arrival + config.firstStopTo, firstEnd))
            .value_or(hold.level);
    // Within half a cycle there is no stop. A fretted note only rises: the bottom of its vibrato should be the note.
    if (shaken) hold.firstStop = move.gesture == Gesture::vibrato ? hold.vibrato->bottom : hold.level;
    hold.doubt = doubtOf(window, hold.level, shaken ? &*hold.vibrato : nullptr, config);
    hold.measured = true;
    if (struck) hold.arrival = note.onset;
    return hold;
}

bool isMeasurable(const Hold& hold, const JudgeConfig& config) {
    return hold.measured && hold.doubt <= config.mostDoubt;
}

// A hold whose beginning a room blurs, by the first of its frames that are sure.
void readSurely(const Note& note, Hold& hold, const JudgeConfig& config) {
    const Points held = between(note.points(), hold.arrival, std::min(hold.until, hold.arrival + config.holdMost));
    if (trendOf(held, &PitchPoint::level).slope < -config.dampedFall) return;
    std::vector<PitchPoint> sure;
    for (const PitchPoint& p : between(held, hold.arrival + config.landingFrom, hold.until))
        if (p.sd < config.sureFrame && sure.size() < config.sureMost) sure.push_back(p);
    if (sure.size() < config.sureLeast) return;
    const double level = *medianCents(sure, sure.front().time, sure.back().time + 1e-3);
    const double doubt = doubtOf(sure, level, nullptr, config);
    if (doubt > config.mostDoubt) return;
    hold.level = hold.firstStop = level;
    hold.doubt = doubt;
}

Hold measure(const Move& move, const Note& note, Stretches stretches, std::size_t stop, double leaving,
             const JudgeConfig& config) {
    Hold hold = measureBy(config.steadyBeforeVibrato, move, note, stretches, stop, leaving, config);
    if (!hold.measured || isMeasurable(hold, config)) return hold;
    if (!hold.vibrato) {
        readSurely(note, hold, config);
        return hold;
    }
    // too little before the vibrato to tell: the vibrato is the landing, however long that was
    const Hold shaken = measureBy(1e9, move, note, stretches, stop, leaving, config);
    return isMeasurable(shaken, config) ? shaken : hold;
}

// Whether the note soon stands again where the move set out.
bool letDown(Stretches stretches, const Attempt& attempt, const JudgeConfig& config) {
    const Stretch& stop = stretches[*attempt.stop];
    if (stop.length() >= config.letDownWithin) return false;
    for (auto k = nextStay(stretches, *attempt.stop); k; k = nextStay(stretches, *k))
        if (std::abs(stretches[*k].level - attempt.startLevel) < config.landedLeast
            && stretches[*k].length() >= config.stopLeast)
            return true;
    return false;
}

// The last moment at which these points lie so near to a level.
std::optional<double> lastNear(Points points, double level, double cents) {
    for (std::size_t i = points.size(); i-- > 0;)
        if (std::abs(points[i].cents - level) <= std::max(cents, 3.0 * points[i].sd)) return points[i].time;
    return std::nullopt;
}

// Fills in how the hand came there: how long it stayed on the note left, how fast it rose, how far it went past.
void fillWay(const Move& move, const Note& note, Stretches stretches, const Attempt& attempt, const Hold& first,
             const Hold& hold, Landing& landing, const JudgeConfig& config) {
    const Points points(note.points());
    double leave = note.onset;  // the last moment on the note left
    if (attempt.start) {
        const Points before = between(points, stretches[*attempt.start].begin, first.arrival);
        leave = lastNear(before, attempt.startLevel, config.leftBy).value_or(leave);
        if (first.arrival - leave > config.slowWay)
            leave = lastNear(before, attempt.startLevel, config.leftSlowlyBy).value_or(leave);
        landing.levelKept =
            Decibels(meanLevel(between(points, hold.arrival, hold.arrival + 0.1))
                     - meanLevel(between(points, std::max(stretches[*attempt.start].begin, leave - 0.1), leave)));
    }
    landing.riseTime = Seconds(std::max(0.0, first.arrival - leave));
    if (kindOf(move.gesture).overFrets)
        landing.linger = Seconds(leave
                                 - (attempt.start && stretches[*attempt.start].begin > note.onset + 0.25
                                        ? stretches[*attempt.start].begin
                                        : note.onset));
    const double furthest = furthestPast(between(points, leave, first.arrival + 0.05), move.direction(), first.level);
    if (furthest >= config.overshootLeast && !first.vibrato) landing.overshoot = Cents(furthest);
}

// Fills in what was held, and how surely.
void fillHold(const Move& move, const Note& note, const Hold& first, const Hold& hold, double targetCents,
              Landing& landing, const JudgeConfig& config) {
    const Points points(note.points());
    const double markedEnd = std::min(hold.until, hold.arrival + config.holdMost);
    landing.landingTime = Seconds(first.arrival);
    landing.landingError = Cents(hold.level - targetCents);
    landing.firstStopError = Cents(first.firstStop - targetCents);
    if (kindOf(move.gesture).ownStroke) landing.startError = Cents(hold.level - 100.0 * move.to.value);
    landing.sd = Cents(hold.doubt);
    if (&hold != &first) landing.correction = Cents(hold.level - first.firstStop);
    landing.holdLength = Seconds(hold.until - hold.arrival);
    landing.holdSpread = Cents(robustSpread(between(points, hold.arrival + config.landingFrom, markedEnd), hold.level));
    if (const auto end = medianCents(points, std::max(hold.arrival, markedEnd - config.sagWindow), markedEnd);
        end && !hold.vibrato)
        landing.sag = Cents(std::max({0.0, hold.level - *end, sankAfter(points, hold, config)}));
    if (kindOf(move.gesture).overFrets && move.place)
        landing.landedFret =
            move.place->fret + static_cast<int>(std::lround((hold.level - 100.0 * move.from.value) / 100.0));
    if (hold.vibrato) {
        const Stretch& v = *hold.vibrato;
        landing.vibrato = VibratoReading{Hertz(v.rate),
                                         Cents(v.top - v.bottom),
                                         Cents(v.bottom - targetCents),
                                         Cents(v.top - targetCents),
                                         Cents(v.level - targetCents),
                                         v.evenness};
    }
}

}  // namespace

double doubtOf(Points window, double level, const Stretch* vibrato, const JudgeConfig& config) {
    double own = 0.0, wander = 0.0;
    for (const PitchPoint& p : window) {
        own += config.sdFrames * p.ownSd() / static_cast<double>(window.size());
        wander += p.wander / static_cast<double>(window.size());
    }
    const double independent = std::max(1.0, (window.back().time - window.front().time) / config.sdIndependent);
    const double driven =
        config.sdGain * std::clamp(1.0 + trendOf(window, &PitchPoint::level).slope / config.freeDecay, 0.0, 1.0);
    double spread = 0.0, drift = 0.0;
    if (vibrato) {
        const double width = vibrato->top - vibrato->bottom;
        spread = 0.5 * width * (1.0 - vibrato->evenness);
        drift = config.sdVibrato * width;
    } else {
        const double slope = trendOf(window).slope, middle = 0.5 * (window.front().time + window.back().time);
        std::vector<PitchPoint> steady(window.begin(), window.end());
        for (PitchPoint& p : steady) p.cents -= slope * (p.time - middle);
        spread = robustSpread(steady, level);
        drift = config.sdDrift * slope;
    }
    return std::sqrt((own * own + spread * spread) / independent + drift * drift + driven * driven + wander * wander
                     + config.sdFloor * config.sdFloor);
}

Landing judge(const Move& move, const Note& note, const Attempt& attempt, double targetCents,
              const JudgeConfig& config) {
    const Stretches stretches = note.stretches();
    Landing landing;
    landing.move = move;
    landing.note = landing.tryNumber = note.number;
    landing.onset = Seconds(note.onset);
    landing.end = Seconds(note.end.value_or(note.heardUntil));
    const bool still = kindOf(move.gesture).fromStroke;
    if (!still && attempt.start) landing.startError = Cents(attempt.startLevel - 100.0 * move.from.value);
    landing.verdict = Verdict::died;
    if (attempt.stop) {
        const double startEnd = attempt.start && !still ? stretches[*attempt.start].end - 0.05 : note.onset;
        const Hold first = measure(move, note, stretches, *attempt.stop, startEnd, config);
        const bool pulled = attempt.landing != attempt.stop;
        const Hold pulledIn =
            pulled ? measure(move, note, stretches, *attempt.landing, stretches[*attempt.stop].begin, config) : first;
        // what cannot be measured is no correction: a note's end through a room
        const Hold& hold = pulled && isMeasurable(pulledIn, config) ? pulledIn : first;
        if (!first.measured || !isMeasurable(hold, config)) {
            const Points held = between(note.points(), hold.arrival, hold.until);
            const bool died = faded(note, held, config) || trendOf(held, &PitchPoint::level).slope < -config.dampedFall
                              || letDown(stretches, attempt, config);
            landing.verdict = died ? Verdict::died : Verdict::notMeasurable;
        } else {
            fillHold(move, note, first, hold, targetCents, landing, config);
            if (!still) fillWay(move, note, stretches, attempt, first, hold, landing, config);
            landing.end = Seconds(std::min(landing.end.value, first.arrival + config.tryMost));
            landing.verdict = verdictOf(landing, attempt.startLevel);
        }
    }
    landing.sentence = sentenceOf(landing, attempt.startLevel, {.aim = config.aim});
    return landing;
}

}  // namespace landfall
