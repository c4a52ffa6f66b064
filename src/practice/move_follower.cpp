#include "src/practice/move_follower.h"

#include <algorithm>
#include <cmath>

namespace landfall {

namespace {

bool contains(const std::vector<std::size_t>& list, std::size_t value) { return std::find(list.begin(), list.end(), value) != list.end(); }

double medianOf(std::vector<double> values) {
    const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
    std::nth_element(values.begin(), middle, values.end());
    return *middle;
}

// A pre-bend is picked on the bent note.
double soundingStart(const Move& move) { return 100.0 * (move.gesture == Gesture::preBend ? move.to : move.from).value; }

// Whether `after` can follow `before` under the same stroke: it starts on the note where that one ended.
bool chains(const Move& before, const Move& after) {
    if (after.gesture == Gesture::note || after.gesture == Gesture::preBend) return false;
    return std::abs(after.from.value - before.to.value) < 0.6;
}

PitchPoint pointOf(const PitchFrame& frame, Hertz a4) {
    return {frame.centre.value, 100.0 * pitchOf(*frame.pitch, a4).value, frame.sd.value, frame.level.value};
}

bool landed(const Landing& landing) { return landing.landingError.has_value(); }

int startNote(const Move& move) { return static_cast<int>(std::lround(move.from.value)); }

}  // namespace

void MoveFollower::setMoves(std::vector<Move> asked, MoveOrder how) {
    moves = std::move(asked);
    order = how;
    next = 0;
    current = {};
    current.struck = note.has_value();  // what sounds now was not played for these moves
    undecided.reset();
    lastEnded.reset();
    lastTry = clock;
}

void MoveFollower::reset() {
    strokes.clear();
    note.reset();
    early.reset();
    unstruck.clear();
    current = {};
    next = 0;
    undecided.reset();
    previousOnset.reset();
    previousPitch.reset();
    previousMatched = false;
    clock = lastTry = nextUntil = 0.0;
    sinceEvaluated = 0;
    lastEnded.reset();
    starts.clear();
    ownGuitar.clear();
    slips.clear();
}

double MoveFollower::targetOf(const Move& move, Target& used) const {
    const double concert = 100.0 * move.to.value;
    used = Target::concert;
    if (config.target == Target::startNote) {
        const auto recent = starts.find(startNote(move));
        if (recent != starts.end()) {
            used = Target::startNote;
            return concert + medianOf({recent->second.begin(), recent->second.end()});
        }
    }
    if (config.target == Target::ownGuitar) {
        const auto own = ownGuitar.find(static_cast<int>(std::lround(move.to.value)));
        if (own != ownGuitar.end()) {
            used = Target::ownGuitar;
            return own->second;
        }
    }
    return concert;
}

std::optional<Cents> MoveFollower::fromTarget(Hertz pitch) const {
    if (next >= moves.size()) return std::nullopt;
    Target used;
    return Cents(100.0 * pitchOf(pitch, config.a4).value - targetOf(moves[next], used));
}

// A stroke may begin the moves that are still to come (once), or the try's next step, or a new try.
std::vector<std::size_t> MoveFollower::candidates(const Note& of) const {
    std::vector<std::size_t> list;
    if (current.locked) return {*current.locked};
    if (order == MoveOrder::once) {
        for (std::size_t k = next; k < moves.size(); ++k) list.push_back(k);
    } else if (!moves.empty()) {
        if (next > 0 && next < moves.size() && of.onset < nextUntil) list.push_back(next);
        list.push_back(0);
    }
    return list;
}

bool MoveFollower::eligible(const Note& of, const std::vector<Stretch>& stretches, std::size_t move) const {
    const auto pitch = startPitch(of, stretches);
    if (!pitch || std::abs(*pitch - soundingStart(moves[move])) > config.judge.startTolerance) return false;
    const bool run = previousOnset && previousPitch && !previousMatched && of.onset - *previousOnset < config.runOfNotes &&
                     std::abs(*pitch - *previousPitch) > config.judge.startTolerance;
    return !run;
}

std::vector<MoveFollower::Step> MoveFollower::chain(const Note& of, const std::vector<Stretch>& stretches, std::size_t move, std::size_t from,
                                                   const JudgeConfig& judging) const {
    std::vector<Step> steps;
    for (std::size_t k = move; k < moves.size(); ++k) {
        if (k > move && !chains(moves[k - 1], moves[k])) break;
        const Move* after = k + 1 < moves.size() && chains(moves[k], moves[k + 1]) ? &moves[k + 1] : nullptr;
        const auto attempt = findAttempt(moves[k], after, of, stretches, from, judging);
        if (!attempt) break;
        Step step{k, {}};
        Target used;
        const double target = targetOf(moves[k], used);
        step.landing = judge(moves[k], of, stretches, *attempt, target, judging);
        step.landing.moveNumber = static_cast<int>(k) + 1;
        step.landing.target = used;
        steps.push_back(step);
        if (!attempt->landing) break;
        from = *attempt->landing;
    }
    return steps;
}

std::vector<MoveFollower::Step> MoveFollower::match(const Note& of, const JudgeConfig& judging) const {
    if (of.points.size() < 4 || moves.empty()) return {};
    const std::vector<Stretch> stretches = readStretches(of, config.reader);
    std::vector<Step> tried;
    const std::vector<std::size_t> list = candidates(of);
    for (const std::size_t k : list) {
        if (!eligible(of, stretches, k)) continue;
        std::vector<Step> steps = chain(of, stretches, k, 0, judging);
        if (!steps.empty() && landed(steps.front().landing)) return steps;
        if (!steps.empty() && tried.empty()) tried = std::move(steps);
    }
    // A stroke that was not heard: the move may begin on a later place of the same note.
    if (order == MoveOrder::once && of.end) {
        for (const std::size_t k : list) {
            for (std::size_t i = 0; i < stretches.size(); ++i) {
                if (!stretches[i].stays() || std::abs(stretches[i].level - soundingStart(moves[k])) > config.judge.startTolerance) continue;
                std::vector<Step> steps = chain(of, stretches, k, i, judging);
                if (!steps.empty() && landed(steps.front().landing)) return steps;
            }
        }
    }
    return tried;
}

void MoveFollower::onset(const Onset& stroke) {
    events.emplace_back(PickStroke{stroke.available, stroke});
    strokes.push_back(stroke);
    Note fresh;
    fresh.onset = stroke.time.value;
    if (early)
        for (const PitchPoint& p : early->points)
            if (p.time >= fresh.onset) fresh.points.push_back(p);
    early = std::move(fresh);
}

void MoveFollower::begin(const Note& fresh) {
    const bool unfinished = current.began && current.ended.empty() && !current.struck;
    close();
    note = fresh;
    current = {};
    current.again = unfinished;
    sinceEvaluated = 0;
}

void MoveFollower::settled(const PitchFrame& frame) {
    clock = frame.centre.value;
    while (!strokes.empty() && strokes.front().time.value <= clock) {
        const double time = strokes.front().time.value;
        strokes.pop_front();
        if (note && note->struck && time - note->onset < config.doubleStroke) continue;
        if (note) {
            note->end = time;
            note->cutByStroke = true;
        }
        Note fresh;
        fresh.onset = time;
        begin(fresh);
        unstruck.clear();
    }
    if (note) {
        note->heardUntil = clock;
        if (frame.pitch) note->points.push_back(pointOf(frame, config.a4));
        const bool silent = note->points.empty();  // a slow low string needs its time to show a pitch
        const double last = silent ? note->onset + 0.35 : note->points.back().time;
        const bool fallen = silent || frame.level.value < note->points.back().level - config.levelLost;
        if (clock - last > (fallen ? config.noteLost : config.pitchLost) || clock - note->onset > config.noteMost) {
            note->end = note->points.empty() ? note->onset : last;
            close();
        } else if (frame.pitch && ++sinceEvaluated >= 4) {
            sinceEvaluated = 0;
            evaluate();
        }
    } else if (frame.pitch) {
        if (!unstruck.empty() && clock - unstruck.back().time > 0.03) unstruck.clear();
        unstruck.push_back(pointOf(frame, config.a4));
        if (clock - unstruck.front().time >= config.noteAppears) {
            Note fresh;
            fresh.struck = false;
            fresh.onset = unstruck.front().time;
            fresh.heardUntil = clock;
            fresh.points = std::move(unstruck);
            unstruck.clear();
            if (!early || early->onset < fresh.onset - 0.5) early = fresh;
            begin(fresh);
        }
    } else {
        unstruck.clear();
    }
    if (!moves.empty() && clock - lastTry >= config.noTry) {
        lastTry = clock;
        events.emplace_back(NoTry{frame.available});
    }
}

// Whether the pitch has kept still to the last point, for as long as a provisional word needs: a quick look before the thorough one.
bool MoveFollower::hasStopped(const Note& of) const {
    double low = 1e9, high = -1e9, noise = 0.0;
    for (auto point = of.points.rbegin(); point != of.points.rend(); ++point) {
        low = std::min(low, point->cents);
        high = std::max(high, point->cents);
        noise = std::max(noise, std::min(point->sd, 8.0));
        if (high - low > config.reader.steadyRange + 3.0 * noise) return false;
        if (of.points.back().time - point->time >= config.earlyStop) return true;
    }
    return false;
}

void MoveFollower::provisional(const PitchFrame& frame) {
    if (!early || !frame.pitch || frame.centre.value < early->onset) return;
    early->points.push_back(pointOf(frame, config.a4));
    early->heardUntil = frame.centre.value;
    if (current.struck || frame.centre.value - early->onset > config.noteMost) return;
    if (note && std::abs(note->onset - early->onset) > 0.2) return;  // the settled stream is still with the note before
    if (early->points.size() % 4 != 0 && (!hasStopped(*early) || frame.centre.value - early->onset > config.earlyEvery)) return;
    JudgeConfig judging = config.judge;
    judging.stopLeast = config.earlyStop;
    for (const Step& step : match(*early, judging)) {
        if (!landed(step.landing) || contains(current.provisional, step.move) || contains(current.final, step.move)) continue;
        if (frame.centre.value < step.landing.landingTime->value + config.earlySaid) continue;
        current.provisional.push_back(step.move);
        events.emplace_back(ProvisionalLanding{frame.available, step.landing});
    }
}

void MoveFollower::evaluate() {
    if (current.struck || !note) return;
    const std::vector<Step> steps = match(*note, config.judge);
    if (!current.began && !moves.empty()) {
        const std::vector<Stretch> stretches = readStretches(*note, config.reader);
        for (const std::size_t k : candidates(*note)) {
            if (!eligible(*note, stretches, k)) continue;
            current.began = true;
            lastTry = clock;
            undecided.reset();  // begun anew
            events.emplace_back(TryBegan{Seconds(clock), Seconds(note->onset), static_cast<int>(k) + 1, current.again});
            break;
        }
        if (!current.began && !stretches.empty() && undecided) {
            const Step died = *undecided;
            undecided.reset();
            ended(died);
        }
    }
    for (const Step& step : steps) {
        if (!landed(step.landing)) break;
        const double arrival = step.landing.landingTime->value;
        if (!current.locked && order == MoveOrder::once && steps.front().move != next) break;  // a move was left out: wait for the note's end
        const double wait = step.landing.vibrato ? config.judge.vibratoTo : config.judge.landingTo;
        if (!contains(current.final, step.move) && clock >= arrival + wait) {
            current.final.push_back(step.move);
            current.locked = steps.front().move;
            events.emplace_back(FinalLanding{Seconds(clock), step.landing});
        }
        if (contains(current.final, step.move) && !contains(current.ended, step.move) && clock >= arrival + config.judge.tryMost) {
            current.ended.push_back(step.move);
            ended(step);
        }
    }
}

// Cut by another stroke before it landed, or just after: one note of many, unless something final was said of it or it was asked for.
bool MoveFollower::inRun(const Note& over, const std::vector<Step>& steps) const {
    if (order == MoveOrder::once || !over.cutByStroke || steps.empty() || current.locked) return false;
    const Landing& first = steps.front().landing;
    return !landed(first) || *over.end - first.landingTime->value < config.runOfNotes;
}

void MoveFollower::close() {
    if (!note) return;
    const Note over = *note;
    bool matched = false;
    if (!current.struck) {
        if (undecided) {
            const Step died = *undecided;
            undecided.reset();
            ended(died);
        }
        std::vector<Step> steps = match(over, config.judge);
        if (inRun(over, steps)) steps.clear();
        for (const Step& step : steps) {
            matched = true;
            if (!landed(step.landing) && step.landing.verdict == Verdict::died && over.cutByStroke) {
                undecided = step;
                continue;
            }
            if (landed(step.landing) && !contains(current.final, step.move)) events.emplace_back(FinalLanding{Seconds(clock), step.landing});
            if (!contains(current.ended, step.move)) ended(step);
        }
        if (!steps.empty()) {
            const Step& last = steps.back();
            if (order == MoveOrder::once) {
                if (!undecided) next = last.move + 1;
            } else {
                next = landed(last.landing) && last.move + 1 < moves.size() ? last.move + 1 : 0;
                nextUntil = *over.end + config.nextStepWithin;
            }
        } else if (over.points.size() >= 20) {
            events.emplace_back(Noodling{Seconds(clock), Seconds(over.onset)});
        }
    }
    previousOnset = over.onset;
    const std::vector<Stretch> stretches = readStretches(over, config.reader);
    previousPitch = startPitch(over, stretches);
    previousMatched = matched;
    // A plainly held note shows how this guitar is set up.
    if (over.struck && !stretches.empty()) {
        const auto first = std::find_if(stretches.begin(), stretches.end(), [](const Stretch& s) { return s.stays(); });
        if (first != stretches.end() && first->state == StretchState::plateau && first->length() >= 0.2 && !matched)
            ownGuitar[static_cast<int>(std::lround(first->level / 100.0))] = first->level;
    }
    note.reset();
    current = {};
}

void MoveFollower::ended(const Step& step) {
    if (undecided && undecided->move == step.move) undecided.reset();
    events.emplace_back(TryEnded{Seconds(clock), step.landing});
    lastEnded = {step.move, step.landing.onset};
    lastTry = clock;
    if (order == MoveOrder::once) next = std::max(next, step.move + 1);
    learn(step);
}

void MoveFollower::learn(const Step& step) {
    const Move& move = step.landing.move;
    if (!step.landing.startError || (move.gesture != Gesture::bend && move.gesture != Gesture::slide)) return;
    const double error = step.landing.startError->value;
    if (std::abs(error) > config.judge.startTolerance) return;
    auto& recent = starts[startNote(move)];
    recent.push_back(error);
    if (recent.size() > config.recentStarts) recent.pop_front();
    auto& row = slips[move.place ? move.place->string : -startNote(move)];
    if (std::abs(error) <= config.slipped || (!row.empty() && (row.back() > 0) != (error > 0))) row.clear();
    if (std::abs(error) > config.slipped) row.push_back(error);
    if (row.size() < 3) return;
    events.emplace_back(StringSlipped{Seconds(clock), move.place ? std::optional(move.place->string) : std::nullopt,
                                      Cents(medianOf({row.begin(), row.end()}))});
    row.clear();
}

void MoveFollower::finish() {
    if (note) {
        note->end = note->points.empty() ? note->onset : note->points.back().time;
        close();
    }
    if (undecided) {
        const Step died = *undecided;
        undecided.reset();
        ended(died);
    }
}

bool MoveFollower::discardLast() {
    if (note && current.began && !current.struck && current.ended.empty()) {
        current.struck = true;
        events.emplace_back(TryStruck{Seconds(clock), static_cast<int>(current.locked.value_or(next)) + 1, Seconds(note->onset)});
        return true;
    }
    if (!lastEnded) return false;
    events.emplace_back(TryStruck{Seconds(clock), static_cast<int>(lastEnded->first) + 1, lastEnded->second});
    next = order == MoveOrder::once ? lastEnded->first : 0;
    lastEnded.reset();
    return true;
}

}  // namespace landfall
