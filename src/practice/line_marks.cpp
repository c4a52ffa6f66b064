#include "src/practice/line_marks.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "dsp/statistics.h"
#include "src/music/chord_move.h"
#include "src/practice/chord_landing.h"
#include "src/practice/landing_judge.h"
#include "src/practice/line_chords.h"
#include "src/practice/pitch_points.h"
#include "src/practice/pulse.h"
#include "src/practice/verdict.h"

namespace landfall {

namespace {

constexpr double landsWithin = 50.0;    // cents; further off it is another note
constexpr double vibratoSpare = 0.200;  // s: a cycle of the slowest vibrato
constexpr double shortShare = 0.65;     // of a short note its last so much
constexpr double steadyFirst = 0.200;   // a note that stands so long before it is shaken has landed there
constexpr double shakenBy = 0.35;       // of its depth; the shaking has begun
constexpr double leftFret = 35.0, halfFrame = 0.0025;  // cents from a fret that was left; s
constexpr double leaveBy = 4.0;                        // cents from the note before: it is left
constexpr std::size_t hintLeast = 8;                   // frames
constexpr double hintHeard = 15.0, hintBack = 0.3;     // cents; of its height
constexpr double hintReach = 150.0;                    // cents; further away something else sounds
constexpr double fallsBy = 0.8;                        // half steps; a fret was passed
// cents about a fret: what a room keeps of the one before moves its pitch by so much
constexpr double fretBand = 35.0;
constexpr double slipsBy = 50.0;  // cents; nearer to the fret above
constexpr int slipLeast = 3;      // frames
constexpr double edge = 0.006;    // s before the next stroke: its sound is in the frames

// The definitions of single tries.
const JudgeConfig defined;

using Frames = std::span<const LineFollower::Frame>;

struct LineHold {
    double arrival = 0.0, level = 0.0;
    double from = 0.0, to = 0.0;  // where the level was read
    double depth = 0.0;           // of the vibrato that it is the middle of; 0: steady
};

double targetOf(const LineMove& move) { return 100.0 * move.move.to.value; }

// The frames from `begin` to `end` that have a pitch and lie between two times.
std::vector<PitchPoint> pointsOf(Frames frames, std::size_t begin, std::size_t end, double from, double to) {
    std::vector<PitchPoint> points;
    for (std::size_t i = begin; i < std::min(end, frames.size()); ++i)
        if (frames[i].cents && frames[i].time >= from && frames[i].time < to)
            points.push_back({.time = frames[i].time,
                              .cents = *frames[i].cents,
                              .sd = frames[i].sd,
                              .wander = frames[i].wander,
                              .level = frames[i].level});
    return points;
}

// The mean over whole cycles, from the first crossing of the middle on to the last in the same direction.
std::optional<double> meanOfCycles(Points points, double from, double to) {
    const Points within = between(points, from, to);
    if (within.size() < 10) return std::nullopt;
    double low = 1e9, high = -1e9;
    for (const PitchPoint& point : within) low = std::min(low, point.cents), high = std::max(high, point.cents);
    if (high - low < 12.0) return std::nullopt;
    const double middle = 0.5 * (low + high);
    std::vector<std::size_t> rising;
    for (std::size_t i = 1; i < within.size(); ++i)
        if (within[i - 1].cents < middle && within[i].cents >= middle
            && (rising.empty() || within[i].time - within[rising.back()].time > 0.06))
            rising.push_back(i);
    if (rising.size() < 2) return std::nullopt;
    double sum = 0.0;
    for (std::size_t i = rising.front(); i < rising.back(); ++i) sum += within[i].cents;
    return sum / static_cast<double>(rising.back() - rising.front());
}

// The last time before `inside` at which the pitch was further than `band` from `level`, between two frames; a frame as
// unsure as that may be as far as `unsureBand`.
double cameInAt(Points points, double inside, double level, double band, double unsureBand) {
    std::size_t at = 0;
    while (at + 1 < points.size() && points[at].time < inside) ++at;
    const auto bandOf = [&](const PitchPoint& point) { return std::clamp(2.0 * point.sd, band, unsureBand); };
    while (at > 0 && std::abs(points[at - 1].cents - level) <= bandOf(points[at - 1])) --at;
    if (at == 0) return points.empty() ? inside : points[0].time;
    const double outside = std::abs(points[at - 1].cents - level), here = std::abs(points[at].cents - level);
    const double share = outside > here ? (outside - band) / (outside - here) : 1.0;
    return points[at - 1].time + std::clamp(share, 0.0, 1.0) * (points[at].time - points[at - 1].time);
}

bool arrives(const LineMove& move) { return !kindOf(move.move.gesture).fromStroke; }

// What the pitch holds from `arrival` on: its median, or, where it is shaken soon after, the mean over whole cycles.
LineHold readHold(Points points, double arrival, double until, bool mayShake) {
    const double shortest = until - shortShare * (until - arrival);
    LineHold hold{.arrival = arrival,
                  .from = std::min(arrival + defined.landingFrom, shortest),
                  .to = std::min(arrival + defined.landingTo, until)};
    const auto plain = medianCents(points, hold.from, hold.to);
    hold.level = plain ? *plain : medianCents(points, arrival, until).value_or(points.back().cents);
    if (!mayShake) return hold;
    const double end = std::min(until, arrival + defined.vibratoTo + vibratoSpare);
    const auto mean = meanOfCycles(points, arrival + defined.vibratoFrom, end);
    if (!mean) return hold;
    double depth = 0.0;
    for (const PitchPoint& point : points)
        if (point.time > arrival + defined.vibratoFrom && point.time < end)
            depth = std::max(depth, std::abs(point.cents - *mean));
    const auto steady = medianCents(points, arrival + 0.5 * defined.landingFrom, arrival + steadyFirst);
    double shakes = arrival;
    if (steady)
        for (const PitchPoint& point : points)
            if (shakes == arrival && point.time > arrival + 0.5 * defined.landingFrom
                && std::abs(point.cents - *steady) > shakenBy * depth)
                shakes = point.time;
    if (shakes - arrival >= steadyFirst) {
        hold.to = std::min(hold.to, shakes);
        hold.level = medianCents(points, hold.from, hold.to).value_or(hold.level);
        return hold;
    }
    hold.level = *mean;
    hold.depth = depth;
    hold.from = arrival + defined.vibratoFrom;
    hold.to = end;
    return hold;
}

// Where the pitch came to rest from `reached` on, until `until`.
std::optional<LineHold> holdOf(const LineMove& move, Points points, double reached, double until) {
    if (points.empty()) return std::nullopt;
    const bool mayShake = move.vibrato || move.move.gesture == Gesture::vibrato;
    LineHold hold = readHold(points, reached, until, mayShake);
    if (!arrives(move)) return hold;
    // The arrival depends on the level, and a little the other way round.
    for (int round = 0; round < 2; ++round) {
        const double inside = std::min(hold.arrival + defined.landingFrom, 0.5 * (hold.arrival + until));
        const double band = std::max(defined.arrivalBand, defined.vibratoBand * hold.depth);
        const bool fretted = kindOf(move.move.gesture).overFrets;
        const double arrival = cameInAt(points, inside, hold.level, band, fretted ? std::max(band, fretBand) : band);
        hold = readHold(points, arrival, until, mayShake);
    }
    return hold;
}

// The top of a hint: the highest pitch that lasts for three frames, until it has come back.
std::optional<LineHold> topOf(Points all, double fretted) {
    std::vector<PitchPoint> points;
    for (const PitchPoint& point : all)
        if (std::abs(point.cents - fretted) < hintReach) points.push_back(point);
    if (points.size() < hintLeast) return std::nullopt;
    const double start = medianOf(Points(points).first(hintLeast));
    std::optional<LineHold> top;
    for (std::size_t i = hintLeast - 2; i + 1 < points.size(); ++i) {
        std::array<double, 3> three{points[i - 1].cents, points[i].cents, points[i + 1].cents};
        std::sort(three.begin(), three.end());
        if (!top || three[1] > top->level) top = LineHold{.arrival = points[i].time, .level = three[1]};
        else if (top->level > start + hintHeard && three[1] < start + hintBack * (top->level - start)) break;
    }
    return top;
}

// When a move that goes on from the one before left it.
double leftAt(const Line& line, Frames frames, const Playing& playing, std::size_t stopFrame) {
    const LineMove& move = line.moves[playing.move];
    double before = 100.0 * move.move.from.value;
    // What sounded before, rather than what should have.
    std::vector<double> last;
    for (std::size_t i = playing.begin; i-- > 0 && last.size() < 12 && playing.begin - i < 40;)
        if (frames[i].cents && std::abs(*frames[i].cents - before) < 60.0) last.push_back(*frames[i].cents);
    if (last.size() >= 5) before = median(std::move(last));
    const bool jumps = kindOf(move.move.gesture).fromStroke;
    const double by = jumps ? 0.5 * std::abs(targetOf(move) - before) : leaveBy;
    const std::size_t from = playing.begin >= 30 ? playing.begin - 30 : 0;
    std::size_t at = std::min(stopFrame, frames.size() - 1);
    while (at > from && (!frames[at].cents || std::abs(*frames[at].cents - before) > by)) --at;
    return at + 1 < frames.size() ? 0.5 * (frames[at].time + frames[at + 1].time) : frames[at].time;
}

// How long the note was heard from which a slide or a fall that is picked sets out.
std::optional<Seconds> lingerOf(const LineMove& move, Frames frames, const Playing& playing, double onset) {
    const Gesture gesture = move.move.gesture;
    if (!move.picked || !(gesture == Gesture::slide || gesture == Gesture::fall)) return std::nullopt;
    const double from = 100.0 * move.move.from.value;
    std::optional<double> left;
    for (std::size_t i = playing.begin; i < std::min(playing.end, frames.size()); ++i) {
        if (!frames[i].cents) continue;
        const bool there = std::abs(*frames[i].cents - from) < leftFret;
        if (there) left = frames[i].time;
        else if (left) break;  // a slide may come back
    }
    if (!left) return std::nullopt;
    return Seconds(std::max(0.0, *left + halfFrame - onset));
}

// A slip has happened where the fret above was heard.
bool slipped(const LineMove& move, Frames frames, const Playing& playing) {
    int above = 0;
    for (std::size_t i = playing.begin; i < std::min(playing.end, frames.size()); ++i)
        above += frames[i].cents && *frames[i].cents > targetOf(move) + slipsBy;
    return above >= slipLeast;
}

// A fall has happened where a fret was passed; how far it went is the player's.
void measureFall(const LineMove& move, Frames frames, const Playing& playing, LineMark& mark) {
    std::vector<double> recent;
    double lowest = move.move.from.value;
    for (std::size_t i = playing.begin; i < std::min(playing.end, frames.size()); ++i) {
        if (!frames[i].cents) continue;
        recent.push_back(0.01 * *frames[i].cents);
        if (recent.size() > 3) recent.erase(recent.begin());
        if (recent.size() == 3) lowest = std::min(lowest, median(recent));
    }
    mark.heard = MidiPitch(lowest);
    mark.outcome = move.move.from.value - lowest >= fallsBy ? Outcome::landed : Outcome::missed;
    mark.verdict = Verdict::notMeasurable;
}

LineMark measure(const Line& line, Frames frames, const Playing& playing, std::size_t nextFrame, double nextTime) {
    const LineMove& move = line.moves[playing.move];
    LineMark mark{.move = playing.move};
    const std::size_t reached = playing.landed ? *playing.landed : playing.wrong ? *playing.wrong : playing.end;
    const double onset = playing.stroke ? *playing.stroke
                         : move.picked  ? frames[playing.begin].time
                                        : leftAt(line, frames, playing, std::min(reached, frames.size() - 1));
    mark.onset = Seconds(onset);
    mark.lingered = lingerOf(move, frames, playing, onset);
    if (move.move.gesture == Gesture::fall) {
        measureFall(move, frames, playing, mark);
        return mark;
    }
    // A finger that hammers on or pulls off has no way to die on: it did not come.
    const bool comes = kindOf(move.move.gesture).fromStroke && !move.picked;
    if (move.move.gesture == Gesture::slip && !slipped(move, frames, playing)) return {.move = playing.move};
    if (!playing.landed && !playing.wrong) {
        mark.outcome = playing.died && !comes ? Outcome::died : Outcome::missed;
        mark.verdict = Verdict::died;
        return mark;
    }
    const double until = std::min(nextTime - edge, frames[std::min(playing.end, frames.size() - 1)].time);
    const auto points = pointsOf(frames, playing.begin, std::min(playing.end, nextFrame), onset - 0.05, until);
    const double from = arrives(move) ? frames[reached].time : onset;
    const auto hold = move.move.gesture == Gesture::hint ? topOf(points, 100.0 * move.move.from.value)
                                                         : holdOf(move, points, from, until);
    if (points.empty()) return {.move = playing.move};  // a muted stroke: nothing was played for it
    if (!hold) {
        mark.outcome = playing.wrong ? Outcome::wrongNote : Outcome::landed;
        return mark;
    }
    const double error = hold->level - targetOf(move);
    const double arrival = arrives(move) ? hold->arrival : onset;
    mark.landingTime = Seconds(arrival);
    mark.landingError = Cents(error);
    mark.holdLength = Seconds(until - arrival);
    if (const auto first = medianCents(points, arrival + defined.firstStopFrom, arrival + defined.firstStopTo))
        mark.firstStopError = Cents(*first - targetOf(move));
    std::optional<Stretch> shaken;
    if (hold->depth > 0.0) shaken = Stretch{.bottom = hold->level - hold->depth, .top = hold->level + hold->depth};
    if (const Points read = between(points, hold->from, hold->to); read.size() > 2)
        mark.sd = Cents(doubtOf(read, hold->level, shaken ? &*shaken : nullptr, defined));
    mark.outcome = std::abs(error) < landsWithin ? Outcome::landed : Outcome::wrongNote;
    if (mark.outcome == Outcome::wrongNote) mark.heard = MidiPitch(0.01 * hold->level);
    mark.verdict = mark.outcome == Outcome::landed       ? bandOf(Cents(error))
                   : kindOf(move.move.gesture).overFrets ? Verdict::wrongFret
                                                         : Verdict::otherInterval;
    return mark;
}

// The moves from a playing of several strings on that went on from it under the same stroke.
std::size_t togetherFrom(const Line& line, std::span<const Playing> played) {
    std::size_t count = 1;
    while (count < played.size() && played[count].move == played.front().move + count && !played[count].stroke
           && !line.moves[played[count].move].picked && !line.moves[played[count].move].move.with.empty())
        ++count;
    return count;
}

// When a playing gave way to the next one, in frames and in seconds: to a move, or to a stroke that belongs to none.
struct Next {
    std::size_t frame = 0;
    double time = 0.0;
};
Next nextAfter(const LineFollower::Played& played, std::size_t begun, std::size_t following, Frames frames) {
    Next next{frames.size(), frames.empty() ? 0.0 : frames.back().time + 0.005};
    if (following < played.moves.size()) {
        next.frame = played.moves[following].begin;
        next.time = played.moves[following].stroke.value_or(frames[next.frame].time);
    }
    for (const double stroke : played.extraStrokes)
        if (stroke > frames[played.moves[begun].begin].time + 0.02) next.time = std::min(next.time, stroke);
    return next;
}

LineChords::Played strokeOf(std::span<const Playing> together, double nextTime, Frames frames) {
    const Playing &first = together.front(), &last = together.back();
    return {first.move, together.size(), first.stroke.value_or(frames[first.begin].time),
            std::min(nextTime - edge, frames[std::min(last.end, frames.size() - 1)].time)};
}

const Landing* landingIn(const LineChords::Reading& reading, std::size_t move) {
    const auto found = std::ranges::find(reading.landings, static_cast<int>(move) + 1, &Landing::moveNumber);
    return found == reading.landings.end() ? nullptr : &*found;
}

// Moves of several strings under one stroke. Where none of them can be followed something else was struck.
void measureTogether(const LineChords::Reading& reading, std::span<LineMark> marks) {
    for (std::size_t i = 0; i < marks.size(); ++i) {
        LineMark& mark = marks[i];
        if (i == 0) mark.onset = Seconds(reading.played.stroke);
        const Landing* landing = landingIn(reading, mark.move);
        if (!landing) {
            mark.outcome = reading.frames.empty() ? Outcome::wrongNote : i == 0 ? Outcome::died : Outcome::missed;
            mark.verdict = reading.frames.empty() ? Verdict::otherInterval : Verdict::died;
            continue;
        }
        mark.landingTime = landing->landingTime;
        mark.landingError = landing->landingError;
        mark.firstStopError = landing->firstStopError;
        mark.sd = landing->sd;
        mark.holdLength = landing->end - *landing->landingTime;
        mark.target = landing->target;
        mark.strings = landing->strings;
        mark.beat = landing->beat;
        mark.verdict = landing->verdict;
        mark.outcome = landing->verdict == Verdict::died                      ? Outcome::died
                       : !landing->landingError                               ? Outcome::landed
                       : std::abs(landing->landingError->value) < landsWithin ? Outcome::landed
                                                                              : Outcome::wrongNote;
    }
}

LineMarks marksOf(const Line& line, const LineFollower::Played& played, Frames frames, LineChords* chords) {
    LineMarks marks;
    marks.moves.resize(line.moves.size());
    for (std::size_t i = 0; i < line.moves.size(); ++i) marks.moves[i].move = i;
    std::vector<double> extra = played.extraStrokes;
    std::vector<std::optional<std::size_t>> last(line.moves.size());
    for (std::size_t i = 0; i < played.moves.size(); ++i) {
        auto& before = last[played.moves[i].move];
        // A hammer-on rises as a weak stroke does.
        if (before && line.moves[played.moves[i].move].picked && played.moves[*before].stroke)
            extra.push_back(*played.moves[*before].stroke);
        before = i;
    }
    for (std::size_t i = 0, count = 1; i < played.moves.size(); i += count) {
        const Playing& playing = played.moves[i];
        const bool several = chords && !line.moves[playing.move].move.with.empty();
        count = several ? togetherFrom(line, std::span(played.moves).subspan(i)) : 1;
        if (last[playing.move] != i) continue;
        const Next next = nextAfter(played, i, i + count, frames);
        if (several)
            measureTogether(chords->read(strokeOf(std::span(played.moves).subspan(i, count), next.time, frames)),
                            std::span(marks.moves).subspan(playing.move, count));
        else marks.moves[playing.move] = measure(line, frames, playing, next.frame, next.time);
    }
    std::sort(extra.begin(), extra.end());
    for (const double time : extra) marks.extra.emplace_back(time);
    timeAgainstPulse(line, marks);
    return marks;
}

// A string that is hardly heard is not drawn: a tenth of what counts as heard.
constexpr double drawnOwn = 0.0024;

// How the strings went, from where the move before had come to up to where the next one comes. Of a unison both are held
// against the one that does not move.
LineTrace traceOf(const Move& move, const LineChords::Reading& reading, std::size_t number, Hertz a4) {
    const auto strings = stringsOf(move);
    const Landing *landing = landingIn(reading, number), *next = landingIn(reading, number + 1),
                  *before = number > 0 ? landingIn(reading, number - 1) : nullptr;
    const auto counts = landing ? stringThatCounts(*landing) : std::nullopt;
    std::size_t shown = counts.value_or(0);
    while (!counts && shown + 1 < strings.size() && strings[shown].gesture == Gesture::note) ++shown;
    const double from = before ? before->landingTime->value : 0.0, to = next ? next->landingTime->value : 1e9;
    const std::size_t held = heldString(move);
    LineTrace trace;
    for (const auto& frame : reading.frames) {
        if (frame.time < from || frame.time >= to) continue;
        const auto above = [&](std::size_t j) { return pitchOf(frame.voices[j].pitch, a4) - strings[j].to; };
        LinePoint point{.at = Seconds(frame.time), .fromTarget = {}};
        for (std::size_t j = 0; j < strings.size(); ++j) {
            const Cents target = isUnison(move) ? above(held) : landing ? landing->strings[j].target : Cents(0.0);
            const bool sounds = frame.voices[j].own > drawnOwn;
            point.strings.push_back(sounds ? std::optional(above(j) - target) : std::nullopt);
            if (j == shown) point.fromTarget = above(j) - target;
        }
        trace.push_back(std::move(point));
    }
    return trace;
}

bool isTry(const GestureKind& kind) { return !kind.onlyInLines && (kind.bends || kind.overFrets); }

}  // namespace

std::string_view outcomeName(Outcome outcome) {
    static constexpr std::array<std::string_view, 4> names{"landed", "wrong note", "missed", "died"};
    return names[static_cast<std::size_t>(outcome)];
}

Landing landingOf(const LineMark& mark, const Move& move, Cents aim) {
    Landing landing;
    landing.moveNumber = static_cast<int>(mark.move) + 1;
    landing.move = move;
    landing.onset = mark.onset.value_or(*mark.landingTime);
    landing.end = *mark.landingTime + *mark.holdLength;
    landing.landingTime = mark.landingTime;
    landing.landingError = mark.landingError;
    landing.firstStopError = mark.firstStopError;
    landing.sd = mark.sd;
    landing.holdLength = mark.holdLength;
    const double start = 100.0 * move.from.value;
    if (!mark.strings.empty()) {
        landing.target = mark.target;
        landing.strings = mark.strings;
        landing.beat = mark.beat;
        sumUpStrings(landing, aim);
        return landing;
    }
    landing.verdict = verdictOf(landing, start);
    landing.sentence = sentenceOf(landing, start, {.aim = aim.value});
    return landing;
}

std::vector<LineTrace> tracesOf(const Line& line, const LineFollower& follower, const LineFollower::Played& played,
                                LineChords* chords) {
    std::vector<LineTrace> all(line.moves.size());
    const Frames frames = follower.frames();
    for (std::size_t at = 0, count = 1; at < played.moves.size(); at += count) {
        const Playing& playing = played.moves[at];
        const bool several = chords && !line.moves[playing.move].move.with.empty();
        count = several ? togetherFrom(line, std::span(played.moves).subspan(at)) : 1;
        if (several) {
            const Next next = nextAfter(played, at, at + count, frames);
            const auto& reading = chords->read(strokeOf(std::span(played.moves).subspan(at, count), next.time, frames));
            for (std::size_t move = playing.move; move < playing.move + count; ++move)
                all[move] = traceOf(line.moves[move].move, reading, move, chords->a4());
            continue;
        }
        LineTrace& trace = all[playing.move];
        trace.clear();
        const double target = targetOf(line.moves[playing.move]);
        for (std::size_t i = playing.begin; i < std::min(playing.end, frames.size()); ++i) {
            LinePoint& point = trace.emplace_back(LinePoint{Seconds(frames[i].time), {}});
            if (!frames[i].cents) continue;
            point.fromTarget = Cents(*frames[i].cents - target);
            point.level = Decibels(frames[i].level);
            point.brightness = frames[i].brightness;
        }
    }
    return all;
}

LineMarks markLine(const Line& line, const LineFollower& follower, LineChords* chords) {
    return marksOf(line, follower.played(), follower.frames(), chords);
}

LineMarks markFrames(const Line& line, const LineFollower& follower, std::size_t frames, LineChords* chords) {
    return marksOf(line, follower.playedSoFar(frames), follower.frames().first(frames), chords);
}

int triesIn(const Line& line) {
    return static_cast<int>(
        std::ranges::count_if(line.moves, [](const LineMove& each) { return isTry(kindOf(each.move.gesture)); }));
}

std::vector<Landing> triesOf(const Line& line, const LineMarks& marks, Cents aim) {
    std::vector<Landing> tries;
    for (const LineMark& mark : marks.moves) {
        const Move& move = line.moves[mark.move].move;
        const GestureKind& kind = kindOf(move.gesture);
        if (mark.outcome == Outcome::missed || !isTry(kind)) continue;
        if (mark.landingTime) {
            tries.push_back(landingOf(mark, move, aim));
            continue;
        }
        Landing landing;
        landing.moveNumber = static_cast<int>(mark.move) + 1;
        landing.move = move;
        landing.onset = landing.end = mark.onset.value_or(Seconds(0.0));
        landing.verdict = mark.outcome == Outcome::died ? Verdict::died : Verdict::notMeasurable;
        landing.sentence = sentenceOf(landing, 100.0 * move.from.value, {.aim = aim.value});
        tries.push_back(landing);
    }
    return tries;
}

Line lineOf(std::span<const Move> moves) {
    Line line;
    for (std::size_t i = 0; i < moves.size(); ++i)
        line.moves.push_back({.move = moves[i],
                              .picked = i == 0 || !goesOn(moves[i - 1], moves[i]) || kindOf(moves[i].gesture).ownStroke,
                              .beat = static_cast<double>(i)});
    line.length = static_cast<double>(moves.size());
    line.inTime = false;
    return line;
}

void addFromLine(std::vector<Landing>& landings, const Line& line, const LineMarks& marks, Cents aim) {
    for (const LineMark& mark : marks.moves) {
        const Move& move = line.moves[mark.move].move;
        if (mark.outcome != Outcome::landed || !mark.landingTime || !arrives(line.moves[mark.move])) continue;
        if (move.asHeard) continue;  // here nothing tells a bend from a slide
        if (mark.holdLength->value < defined.stopLeast || mark.sd.value_or(Cents(99.0)).value > defined.mostDoubt)
            continue;
        const int number = static_cast<int>(mark.move) + 1;
        const auto at = std::ranges::find_if(landings, [&](const Landing& each) { return each.moveNumber >= number; });
        const bool known = at != landings.end() && at->moveNumber == number;
        if (known && at->verdict != Verdict::notMeasurable) continue;
        // Between its neighbours.
        const auto next = known ? at + 1 : at;
        if (next != landings.end() && next->landingTime && *next->landingTime < *mark.landingTime) continue;
        if (at != landings.begin() && (at - 1)->landingTime && *(at - 1)->landingTime > *mark.landingTime) continue;
        if (known) *at = landingOf(mark, move, aim);
        else landings.insert(at, landingOf(mark, move, aim));
    }
}

}  // namespace landfall
