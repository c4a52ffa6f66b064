#include "src/practice/line_follower.h"

#include <algorithm>
#include <cmath>
#include <tuple>
#include <utility>

#include "src/music/chord_move.h"

namespace landfall {

namespace {

constexpr double never = 1e9;
constexpr std::size_t slopeFrames = 4;  // to each side
constexpr std::uint16_t freshBit = 0x8000;
constexpr double frameSeconds = 0.005;
// A frame's break lies within half a hop of its centre.
constexpr double halfHop = 0.5 * frameSeconds;
constexpr double inputBegins = 0.02;   // s
constexpr std::size_t keptEvery = 20;  // frames

double centsOf(MidiPitch pitch) { return 100.0 * pitch.value; }

// It ends nowhere, so it never lands.
bool isFall(const LineMove& move) { return move.move.gesture == Gesture::fall; }

bool isShaken(const LineMove& move) { return move.vibrato || move.move.gesture == Gesture::vibrato; }

}  // namespace

LineFollower::LineFollower(const Line& followed, const LineFollowerConfig& given) : line(followed), config(given) {
    for (const LineMove& each : line.moves) {
        strings.emplace_back();
        if (each.move.with.empty()) continue;
        severalStrings = true;
        for (const Move& string : stringsOf(each.move))
            strings.back().push_back({centsOf(std::min(string.from, string.to)) - config.flat,
                                      centsOf(std::max(string.from, string.to)) + config.flat});
    }
    for (std::size_t i = 0; i < line.moves.size(); ++i)
        beginsBar.push_back(i == 0 || std::any_of(line.barBegins.begin(), line.barBegins.end(), [&](double begin) {
                                return begin <= line.moves[i].beat && begin > line.moves[i - 1].beat;
                            }));
    restart();
}

void LineFollower::restart() {
    costs.assign(positions() * parts, never);
    now = state(0, quiet);
    costs[now] = 0.0;
    begun.assign(costs.size(), 0);
    entries.resize(positions());
    back.clear();
    kept.clear();
    done = lastSound = lastMove = 0;
}

void LineFollower::beginAgain(std::size_t frame) {
    heard.erase(heard.begin(), heard.begin() + static_cast<std::ptrdiff_t>(std::min(frame, done)));
    restart();
    while (heard.size() > done + slopeFrames) step();
}

Seconds LineFollower::sinceFrame(std::size_t frame) const {
    return Seconds(done > frame ? heard[done - 1].time - heard[frame].time : 0.0);
}

void LineFollower::hear(const Break& stroke) {
    const auto later = std::ranges::find_if(breaks, [&](const Break& each) { return each.time > stroke.time; });
    breaks.insert(later, stroke);
}

void LineFollower::hear(const PitchFrame& settled) {
    Frame frame{.time = settled.centre.value,
                .cents = std::nullopt,
                .sd = settled.sd.value,
                .wander = settled.wander.value,
                .level = settled.level.value,
                .brightness = settled.brightness};
    if (settled.pitch) frame.cents = centsOf(pitchOf(*settled.pitch, config.a4));
    takeBreaks(frame);
    frame.attack = lastBreak >= 0.0 && frame.time - lastBreak < config.attack;
    loudestYet = std::max(loudestYet, frame.level);
    frame.rings = frame.level > loudestYet - config.ringsTo;
    heard.push_back(frame);
    // Strings struck together have no pitch that stands.
    if (!severalStrings) silence(talkEar.hear(frame.cents, frame.stroke >= config.weakest));
    while (heard.size() > done + slopeFrames) step();
}

// Talk is no sound: it is taken out, and what came since is searched again. What landed was asked for, however wide it
// was shaken.
void LineFollower::silence(std::span<const std::size_t> talk) {
    if (talk.empty()) return;
    std::vector<bool> landed(heard.size());
    for (const Playing& playing : playedSoFar().moves)
        if (playing.landed)
            for (std::size_t i = playing.begin; i < playing.end; ++i) landed[i] = true;
    std::optional<std::size_t> first;
    for (const std::size_t ago : talk) {
        if (ago >= heard.size() || landed[heard.size() - 1 - ago]) continue;
        Frame& frame = heard[heard.size() - 1 - ago];
        frame = {.time = frame.time, .cents = std::nullopt};
        first = std::min(first.value_or(heard.size()), heard.size() - 1 - ago);
    }
    if (first) goBack(*first);
}

void LineFollower::goBack(std::size_t frame) {
    const std::size_t unmoved = frame - std::min(frame, slopeFrames);  // whose slope it does not change
    if (unmoved >= done) return;
    while (!kept.empty() && kept.back().done > unmoved) kept.pop_back();
    if (kept.empty()) return restart();
    const Kept then = std::move(kept.back());
    kept.pop_back();
    std::tie(done, now, lastSound, lastMove) = std::tie(then.done, then.now, then.lastSound, then.lastMove);
    costs = then.costs;
    begun = then.begun;
    back.resize(done);
}

void LineFollower::takeBreaks(Frame& frame) {
    for (; !breaks.empty() && breaks.front().time.value < frame.time + halfHop; breaks.pop_front()) {
        const Break& next = breaks.front();
        if (severalStrings && lastBreak >= 0.0 && next.time.value - lastBreak < config.strum) continue;
        const double strength =
            severalStrings && next.time.value < inputBegins ? config.weakest : next.strength;  // its noise sets in
        if (strength > frame.stroke) {
            frame.stroke = strength;
            frame.strokeAt = next.time.value;
        }
    }
    if (frame.stroke >= (severalStrings ? config.clearStroke : config.weakest)) lastBreak = frame.time;
}

void LineFollower::finish() {
    if (!severalStrings) silence(talkEar.finish());
    while (done < heard.size()) step();
}

// Only a move that is picked away from its target starts on a note of its own; else it leaves where the last one landed.
bool LineFollower::hasStart(const LineMove& move) const {
    const Gesture gesture = move.move.gesture;
    return gesture == Gesture::bend || ((gesture == Gesture::slide || gesture == Gesture::fall) && move.picked);
}

double LineFollower::pickCost(double stroke) const {
    if (stroke < config.weakest) return config.strokeUnheard;
    const double clear = std::min(1.0, (stroke - config.weakest) / (config.clearStroke - config.weakest));
    return (1.0 - clear) * config.weakStroke;
}

double LineFollower::ignoreCost(double stroke, Part part) const {
    if (stroke < config.weakest) return 0.0;
    // The frets of a slide rise as weak strokes do.
    const double sure = part == way ? config.clearOnTheWay : config.clearStroke;
    const double clear = std::min(1.0, (stroke - config.weakest) / (sure - config.weakest));
    const double cost = config.weakIgnored + clear * (config.strokeIgnored - config.weakIgnored);
    return part == quiet || part == dead ? std::min(cost, config.ignoredInSilence) : cost;
}

// A note is not shorter than a hand can play.
double LineFollower::brief(std::size_t from) const {
    const Part part = static_cast<Part>(from % parts);
    if (part == quiet || part == dead) return 0.0;
    const double lasted = static_cast<double>(done - begun[from]) * frameSeconds / config.shortest;
    return lasted < 1.0 ? config.tooShort * (1.0 - lasted) : 0.0;
}

// What goes on from a move that has not landed. A fall has no landing.
double LineFollower::unlandedCost(std::size_t position, Part part) const {
    if (part == way && position > 0 && isFall(line.moves[position - 1])) return 0.0;
    return part == start || part == way ? config.startNotLanded : 0.0;
}

// From where each place of the line is entered the cheapest: from the one before it, by missing some, by playing it again,
// or by beginning an earlier one again.
void LineFollower::findEntries() {
    std::vector<Step> exits(positions());
    for (std::size_t position = 0; position < positions(); ++position)
        for (const Part part : {land, quiet, wrong, extra, dead, start, way}) {
            const double unlanded = unlandedCost(position, part);
            const double cost = leaving(state(position, part)) + unlanded;
            if (cost < exits[position].cost)
                exits[position] = {cost, static_cast<std::uint32_t>(state(position, part)), 0, false};
        }
    const auto better = [](Step& known, const Step& step, double more) {
        if (step.cost + more < known.cost) known = {step.cost + more, step.from, 0, false};
    };
    Step before, after;
    for (std::size_t position = 1; position < positions(); ++position) {
        before.cost += config.missed;
        better(before, exits[position - 1], 0.0);
        entries[position] = before;
        better(entries[position], exits[position], config.playedAgain);
    }
    for (std::size_t position = positions() - 1; position > 0; --position) {
        better(entries[position], after, config.begunAgain - (beginsBar[position - 1] ? config.atBarLine : 0.0));
        better(after, exits[position], 0.0);
    }
}

// What a pitch costs that belongs to a move.
double LineFollower::pitchCost(const LineMove& move, Part part, const Frame& frame) const {
    const double cents = *frame.cents;
    const double from = centsOf(move.move.from), to = centsOf(move.move.to);
    const bool moves = std::abs(frame.slope) > config.moving;
    const auto outside = [&](double low, double high) {
        const double away = std::max({0.0, low - cents, cents - high}) / config.steep;
        const double octave = std::abs(std::abs(cents - 0.5 * (low + high)) - 1200.0);
        return std::min(octave < config.flat ? config.octaveOff : config.elsewhere, config.elsewhere * away * away);
    };
    switch (part) {
        case start: return outside(from - config.flat, from + config.flat);
        case way: {
            const double reach = move.move.gesture == Gesture::slip ? 100.0 : 0.0;
            const double low = std::min(from, to) - config.past, high = std::max(from, to) + config.past + reach;
            if (move.move.gesture == Gesture::slip)
                return cents > to + config.flat && cents < high ? config.onTheWay : config.stands;
            if (isFall(move)) {
                const bool falls = moves ? frame.slope < 0.0 : cents < from - config.flat;
                return std::max(falls ? config.onTheWay : config.stands, outside(to - 1200.0, from + config.past));
            }
            const bool onwards = moves && (frame.slope > 0.0) == (to > from);
            const double going = onwards ? config.onTheWay : moves ? config.backwards : config.stands;
            return std::max(going, outside(low, high));
        }
        case land:
            if (move.move.gesture == Gesture::hint)
                return outside(from - config.hintBelow,
                               from + std::max(config.hintAbove, move.hint.most + config.hintBelow));
            if (isShaken(move))
                return outside(to - (kindOf(move.move.gesture).bends ? config.letDown : config.vibratoBelow),
                               to + config.vibratoAbove);
            return outside(to - config.flat, to + config.flat);
        case wrong:
            if (std::abs(cents - to) < 50.0) return config.elsewhere;
            return moves ? config.wrongMoving : config.wrongSteady;
        default: return moves ? config.noiseInSilence : config.pitchInSilence;
    }
}

// Only a pitch that is heard has arrived, and one that is on its way to be shaken not before it is near.
bool LineFollower::mayLand(const LineMove& move, const Frame& frame) const {
    if (isFall(move)) return false;
    if (!frame.cents || pitchCost(move, land, frame) >= config.elsewhere) return false;
    return !isShaken(move) || *frame.cents > centsOf(move.move.to) - config.vibratoBelow - config.steep;
}

// One string of several says little, and silence nothing while they ring.
double LineFollower::togetherCost(std::size_t position, const Frame& frame) const {
    if (!frame.cents) return frame.rings ? config.unheardTogether : config.silent;
    const auto& asked = strings[position - 1];
    const bool one = std::any_of(asked.begin(), asked.end(), [&](const Reach& reach) {
        return *frame.cents > reach.low && *frame.cents < reach.high;
    });
    return one ? 0.0 : frame.weight * config.noneOfThem;
}

double LineFollower::frameCost(std::size_t position, Part part, const Frame& frame) const {
    if (part == land && isTogether(position)) return togetherCost(position, frame);
    if (!frame.cents) {
        if (part == quiet || part == dead) return isTogether(position) && frame.rings ? config.silent : 0.0;
        return part == wrong || part == extra ? config.silentElsewhere : config.silent;
    }
    const bool moves = std::abs(frame.slope) > config.moving;
    if (part == extra) return frame.weight * (moves ? config.wrongMoving : config.wrongSteady);
    if (position == 0) return part == quiet ? frame.weight * config.pitchInSilence : never;
    return frame.weight * pitchCost(line.moves[position - 1], part, frame);
}

// What begins with this frame: a move, or a note that belongs to none.
void LineFollower::enter(std::size_t position, const Frame& frame, std::vector<Step>& next) const {
    const double pick = pickCost(frame.stroke);
    const auto offer = [&](Part part, double cost, std::size_t from) {
        Step& step = next[state(position, part)];
        if (cost < step.cost) step = {cost, static_cast<std::uint32_t>(from), done, true};
    };
    // From anywhere, by a stroke.
    for (const Part part : {start, way, land, wrong, quiet, extra, dead})
        offer(extra, leaving(state(position, part)) + config.extra + pick, state(position, part));
    if (position == 0) return;
    const LineMove& move = line.moves[position - 1];
    const bool joined = !move.picked;
    const std::size_t from = entries[position].from;
    if (isTogether(position)) {
        const bool struck = frame.stroke >= config.weakest;
        const double unstruck = struck ? 0.0 : lastBreak < 0.0 ? never : config.unstruckTogether;
        const double again = joined ? config.pickedAnyway + config.pickedElsewhere : 0.0;
        offer(land, entries[position].cost + pick + unstruck + again, from);
        const std::size_t last = state(position - 1, land);
        if (joined && isTogether(position - 1)) offer(land, leaving(last) + config.goneOnTogether, last);
        return;
    }
    const double picked = entries[position].cost + pick + (joined ? config.pickedAnyway : 0.0);
    if (hasStart(move) || joined) {
        if (hasStart(move)) offer(start, picked, from);
        offer(way, picked, from);
        if (!isFall(move)) offer(land, picked + (kindOf(move.move.gesture).fromStroke ? 0.0 : config.noWay), from);
    } else {
        offer(land, picked, from);
    }
    offer(wrong, picked + config.wrong + (joined ? config.pickedElsewhere : 0.0), from);
    if (!joined || position < 2) return;
    // Going on from the move before.
    for (const Part part : {land, wrong, start, way}) {
        const double cost = leaving(state(position - 1, part)) + (part == land ? 0.0 : config.startNotLanded);
        const std::size_t last = state(position - 1, part);
        if (hasStart(move)) offer(start, cost, last);
        offer(way, cost, last);
        if (mayLand(move, frame))
            offer(
                land,
                cost
                    + (kindOf(move.move.gesture).fromStroke || move.move.gesture == Gesture::hint ? 0.0 : config.noWay),
                last);
        offer(wrong, cost + config.wrong, last);
    }
}

// What goes on in the same place of the line.
void LineFollower::goOn(std::size_t position, const Frame& frame, std::vector<Step>& next) const {
    const auto offer = [&](Part from, Part to, double cost) {
        Step& step = next[state(position, to)];
        const double whole = costs[state(position, from)] + cost;
        // Where a way ends on another pitch a stay begins, which must last to be one.
        const std::size_t since = to == wrong && from != wrong ? done : begun[state(position, from)];
        if (whole < step.cost) step = {whole, static_cast<std::uint32_t>(state(position, from)), since, false};
    };
    for (const Part part : {start, way, land, wrong, dead, quiet, extra})
        offer(part, part, ignoreCost(frame.stroke, part));
    const double ignored = ignoreCost(frame.stroke, land);
    const double ended = config.ends + ignoreCost(frame.stroke, quiet);
    offer(extra, quiet, ended + brief(state(position, extra)));
    if (position == 0) return;
    const bool joined = !line.moves[position - 1].picked;
    offer(start, way, ignoreCost(frame.stroke, way));
    if (frame.cents) {
        if (mayLand(line.moves[position - 1], frame)) {
            offer(way, land, ignoreCost(frame.stroke, way));
            offer(start, land, ignored + config.noWay);
        }
        for (const Part part : {start, way}) {
            const bool struck = heard[begun[state(position, part)]].stroke >= config.weakest;
            offer(part, wrong, ignored + config.wrong + (joined && struck ? config.pickedElsewhere : 0.0));
        }
    }
    offer(start, dead, config.died + ignoreCost(frame.stroke, dead));
    offer(way, dead, (isFall(line.moves[position - 1]) ? config.ends : config.died) + ignoreCost(frame.stroke, dead));
    offer(land, quiet, ended + brief(state(position, land)));
    offer(wrong, quiet, ended + brief(state(position, wrong)));
    offer(quiet, land, ignored + config.soundsAgain);
}

void LineFollower::step() {
    if (!severalStrings && done % keptEvery == 0) {
        kept.push_back({done, now, lastSound, lastMove, costs, begun});
        if (kept.size() * keptEvery > TalkEarConfig{}.window + 2 * keptEvery) kept.pop_front();
    }
    Frame& frame = heard[done];
    frame.slope = 0.0;
    const std::size_t from = done >= slopeFrames ? done - slopeFrames : 0;
    const std::size_t to = std::min(heard.size() - 1, done + slopeFrames);
    if (heard[from].cents && heard[to].cents && to > from)
        frame.slope = (*heard[to].cents - *heard[from].cents) / (heard[to].time - heard[from].time);
    // A string that is being damped, or that a gate lets go, is no longer played.
    const auto loudBefore =
        static_cast<std::ptrdiff_t>(std::min(done, static_cast<std::size_t>(config.loudWithin / frameSeconds)));
    const auto here = heard.begin() + static_cast<std::ptrdiff_t>(done);
    const double loudest = std::max_element(here - loudBefore, here + 1, [](const Frame& a, const Frame& b) {
                               return a.level < b.level;
                           })->level;
    frame.weight = frame.attack ? config.duringAttack : 1.0;
    if (frame.level < loudest - config.fadingBy) frame.weight = std::min(frame.weight, config.duringFade);

    findEntries();
    std::vector<Step> next(costs.size());
    for (std::size_t position = 0; position < positions(); ++position) {
        goOn(position, frame, next);
        enter(position, frame, next);
    }
    std::vector<std::uint16_t> steps(costs.size());
    double least = never;
    for (std::size_t position = 0; position < positions(); ++position)
        for (const Part part : {start, way, land, wrong, dead, quiet, extra}) {
            Step& each = next[state(position, part)];
            each.cost = std::min(never, each.cost + frameCost(position, part, frame));
            least = std::min(least, each.cost);
        }
    for (std::size_t each = 0; each < costs.size(); ++each) {
        costs[each] = std::min(never, next[each].cost - least);
        begun[each] = next[each].begun;
        steps[each] = static_cast<std::uint16_t>(next[each].from | (next[each].fresh ? freshBit : 0u));
    }
    back.push_back(std::move(steps));
    ++done;
    lookWhere();
}

void LineFollower::lookWhere() {
    now = static_cast<std::size_t>(std::min_element(costs.begin(), costs.end()) - costs.begin());
    const Part part = static_cast<Part>(now % parts);
    if (part == quiet || part == dead) return;
    lastSound = done - 1;
    if (part != extra) lastMove = done - 1;
}

double LineFollower::lead() const {
    double least = never;
    for (std::size_t each = 0; each < costs.size(); ++each)
        if (each / parts != position()) least = std::min(least, costs[each]);
    return least - costs[now];
}

// What has not come by then is missed.
std::size_t LineFollower::likeliestEnd() const {
    std::size_t at = 0;
    double best = never;
    for (std::size_t position = 0; position < positions(); ++position)
        for (const Part part : {land, quiet, wrong, dead, extra, start, way}) {
            const double cost =
                costs[state(position, part)] + config.missed * static_cast<double>(positions() - 1 - position);
            if (cost < best) best = cost, at = state(position, part);
        }
    return at;
}

LineFollower::Played LineFollower::courseTo(std::size_t at, std::size_t frames) const {
    Played result;
    std::vector<std::uint16_t> course(back.size());
    for (std::size_t frame = back.size(); frame-- > 0;) {
        const std::uint16_t step = back[frame][at];
        course[frame] = static_cast<std::uint16_t>(at | (step & freshBit));
        at = step & static_cast<std::uint16_t>(~freshBit);
    }
    for (std::size_t frame = 0; frame < std::min(course.size(), frames); ++frame) {
        const std::size_t position = (course[frame] & ~freshBit) / parts;
        const Part part = static_cast<Part>((course[frame] & ~freshBit) % parts);
        const bool fresh = (course[frame] & freshBit) != 0;
        const bool struck = heard[frame].stroke >= config.weakest;
        if (fresh && part == extra) result.extraStrokes.push_back(struck ? heard[frame].strokeAt : heard[frame].time);
        if (part == extra || position == 0) continue;
        if (fresh) {
            result.moves.push_back({.move = position - 1, .begin = frame, .end = frame + 1});
            if (struck) result.moves.back().stroke = heard[frame].strokeAt;
        }
        Playing& playing = result.moves.back();
        if (part == dead) playing.died = true;
        if (part == dead || part == quiet) continue;
        playing.end = frame + 1;
        if (part != start && !playing.left) playing.left = frame;
        if (part == land && !playing.landed) playing.landed = frame;
        if (part == wrong && !playing.wrong) playing.wrong = frame;
    }
    return result;
}

}  // namespace landfall
