#include "src/app/practice_screen.h"

#include <algorithm>
#include <cmath>

#include <fmt/core.h>

#include "gui/words.h"
#include "src/music/chord_move.h"
#include "src/practice/ear_guess.h"
#include "src/practice/verdict.h"

namespace landfall {

namespace {

constexpr std::size_t mostTraces = 12, mostMarks = 30, marksBetween = 5;
constexpr double recentFor = 0.6;  // s: strokes are known within a tenth, a try's beginning within half a second

// s across: of one step, and more for each that goes on under the same stroke
constexpr double sweepForOne = 3.0, sweepForMore = 2.0;
constexpr std::string_view struckWords = "Dropped: that try does not count.";
constexpr double lineEnds = 0.3;  // s without a pitch, of a try whose next step is still waited for

std::vector<SweepStep> stepsOf(const std::vector<Move>& moves) {
    std::vector<SweepStep> steps;
    for (std::size_t k = 0; k < moves.size(); ++k) {
        SweepStep step{moves[k].to - moves[0].to, std::nullopt};
        if (k == 0 || !goesOn(moves[k - 1], moves[k])) step.start = moves[k].from - moves[0].to;
        steps.push_back(step);
    }
    return steps;
}

// What the key for next does now: DrillRunner::next in words.
std::string nextWords(const DrillState& state) {
    switch (state.phase) {
        case DrillPhase::warmUp: return "start now";
        case DrillPhase::asking: return state.set < state.sets ? "next set" : "end the drill";
        case DrillPhase::resting: return state.restStays ? "" : "skip the rest";
        case DrillPhase::stringSlipped: return "go on as it is";
        case DrillPhase::done: return "next drill";
    }
    return {};
}

// Short pieces behind gaps at the end are the string being let go of.
void dropLoneEnd(std::vector<TracePoint>& points) {
    constexpr double lone = 0.15;  // s
    while (!points.empty()) {
        const auto gap =
            std::find_if(points.rbegin(), points.rend(), [](const TracePoint& each) { return !each.fromTarget; });
        if (gap == points.rend() || (points.back().sinceStroke - gap->sinceStroke).value > lone) return;
        points.erase(gap.base() - 1, points.end());
    }
}

// For the steps under one stroke.
Seconds sweepFor(const std::vector<SweepStep>& steps) {
    int most = 0, run = 0;
    for (const SweepStep& step : steps) most = std::max(most, run = step.start ? 0 : run + 1);
    return Seconds(sweepForOne + sweepForMore * most);
}

}  // namespace

PracticeScreen::PracticeScreen(Config given) : config(std::move(given)) {
    shown.drill = config.drill.name;
    shown.aim = config.aim;
    shown.neck = neckOf(config.guitar);
}

PracticeScreen::Kept PracticeScreen::keeping() const {
    if (asked.guided) return Kept::shown;
    if (asked.byEar) return Kept::byEar;
    return config.telling == Telling::everyTry ? Kept::shown : Kept::forNow;
}

void PracticeScreen::hear(const ListenerEvent& event) {
    if (const auto* live = std::get_if<LivePitch>(&event)) return pitch(*live);
    if (const auto* live = std::get_if<LiveStrings>(&event)) return strings(*live);
    if (const auto* e = std::get_if<TryStruck>(&event)) return struck(*e);  // in a rest or at the drill's end too
    if (asked.phase != DrillPhase::asking && asked.phase != DrillPhase::stringSlipped) return;
    if (const auto* e = std::get_if<PickStroke>(&event)) stroke(*e);
    if (const auto* e = std::get_if<TryBegan>(&event)) began(*e);
    if (const auto* e = std::get_if<ProvisionalLanding>(&event); e && keeping() == Kept::shown) landed(e->landing);
    if (const auto* e = std::get_if<FinalLanding>(&event); e && keeping() == Kept::shown) landed(e->landing);
    if (const auto* e = std::get_if<TryEnded>(&event)) ended(*e);
    if (const auto* e = std::get_if<WrongStart>(&event); e && shown.moment == Moment::playing) tellWhy(e->sentence);
    if (const auto* e = std::get_if<Noodling>(&event)) noodled(*e);
}

bool PracticeScreen::liveNow() const {
    return asked.guided || (config.tracing == Tracing::whilePlaying && !asked.byEar);
}

void PracticeScreen::add(Line& line, const Point& point) {
    const Seconds since = point.at - line.onset;
    if (line.over || since.value < 0.0 || since > shown.sweepLength) return;
    auto& points = line.trace.points;
    if (!points.empty() && since <= points.back().sinceStroke) return;
    if (!point.fromTarget && (points.empty() || !points.back().fromTarget)) return;
    if (!line.trace.marks.empty() && !points.empty() && !points.back().fromTarget
        && (since - points.back().sinceStroke).value > lineEnds) {
        line.over = true;
        return;
    }
    points.push_back({since, point.fromTarget});
    if (!liveShown || &line != &lines.back()) return;
    shown.traces.back().points.push_back(points.back());
    ++changes;
}

void PracticeScreen::pitch(const LivePitch& live) {
    std::optional<Cents> fromFirst = live.frame.pitch ? live.fromTarget : std::nullopt;
    const auto step = static_cast<std::size_t>(live.moveNumber - 1);
    if (fromFirst && step < shown.steps.size()) fromFirst = *fromFirst + shown.steps[step].target;
    recent.push_back({live.frame.centre, fromFirst});
    while (recent.back().at.value - recent.front().at.value > recentFor) recent.pop_front();
    if (!lines.empty()) add(lines.back(), recent.back());
}

// Each string's line, against where that string is asked to land in the first step.
void PracticeScreen::strings(const LiveStrings& live) {
    const auto found =
        std::find_if(lines.rbegin(), lines.rend(), [&](const Line& line) { return line.note == live.note; });
    const auto step = static_cast<std::size_t>(live.moveNumber - 1);
    if (found == lines.rend() || found->over || step >= asked.moves.size()) return;
    const Seconds since = live.time - found->onset;
    if (since.value < 0.0 || since > shown.sweepLength) return;
    const auto now = stringsOf(asked.moves[step]), first = stringsOf(asked.moves.front());
    auto& drawn = found->trace.strings;
    for (std::size_t j = 0; j < live.fromTarget.size() && j < now.size(); ++j) {
        const auto string = static_cast<std::size_t>(now[j].place ? now[j].place->string - 1 : 0);
        if (drawn.size() <= j)
            drawn.push_back({string < shown.neck.stringNames.size() ? shown.neck.stringNames[string] : "", {}});
        auto from = live.fromTarget[j];
        if (from) from = *from + (now[j].to - first[j].to);
        if (from || (!drawn[j].points.empty() && drawn[j].points.back().fromTarget))
            drawn[j].points.push_back({since, from});
    }
    if (!liveShown || &*found != &lines.back()) return;
    shown.traces.back().strings = drawn;
    ++changes;
}

// Every stroke begins a line; whether it is a try shows a moment later.
void PracticeScreen::stroke(const PickStroke& stroke) {
    if (!lines.empty() && lines.back().tryNumber == 0) lines.pop_back();
    if (!lines.empty()) lines.back().live = false;
    lines.push_back({.note = stroke.note, .onset = stroke.onset.time, .trace = {}, .live = liveNow()});
    for (const Point& point : recent) add(lines.back(), point);
    saidAt.reset();
    put(shown.moment, Moment::playing);
    put(shown.guessing, false);
    put(shown.sentence, std::string());
    shown.last.clear();
    collect();
}

// Of a note that turns out to be a try.
PracticeScreen::Line& PracticeScreen::lineOf(int note, int tryNumber, Seconds onset) {
    auto found = std::find_if(lines.rbegin(), lines.rend(), [&](const Line& line) { return line.note == note; });
    if (found == lines.rend()) {
        lines.push_back({.note = note, .onset = onset, .trace = {}, .live = liveNow()});
        for (const Point& point : recent) add(lines.back(), point);
        found = lines.rbegin();
    }
    found->tryNumber = tryNumber;
    return *found;
}

void PracticeScreen::began(const TryBegan& began) {
    Line& line = lineOf(began.note, began.tryNumber, began.onset);
    // A second stroke on the same note starts the try anew.
    if (began.again)
        std::erase_if(lines, [note = line.note](const Line& other) {
            return other.note != note && other.tryNumber > 0 && other.trace.marks.empty();
        });
    ask(static_cast<std::size_t>(std::max(0, began.moveNumber - 1)));
    if (shown.moment != Moment::landed) put(shown.moment, Moment::playing);
    collect();
}

// The steps of one try stay together: a later step joins the one before it.
void PracticeScreen::remember(const Landing& landing, bool final) {
    const auto same = std::find_if(lastTry.begin(), lastTry.end(),
                                   [&](const Landing& each) { return each.moveNumber == landing.moveNumber; });
    const bool goesOnFrom =
        !lastTry.empty() && lastTry.back().landingError && lastTry.back().moveNumber < landing.moveNumber;
    if (same != lastTry.end() && same->tryNumber == landing.tryNumber) {
        const std::string said = same->sentence;
        *same = landing;
        if (!final) same->sentence = said;
        return;
    }
    if (!goesOnFrom) lastTry.clear();
    lastTry.push_back(landing);
    if (!final) lastTry.back().sentence.clear();
}

void PracticeScreen::say(bool final) {
    put(shown.moment, Moment::landed);
    const Words words = wordsOf(lastTry, config.aim, config.drill.subject);
    put(shown.landed, words.headline);
    shown.last.clear();
    // A mark that might still move to the other side of the aim comes with its sentence.
    const bool released = isReleased(lastTry, config.drill.subject);
    for (const Landing& step : lastTry)
        if ((!released || &step == &lastTry.back())
            && (!step.sentence.empty() || isClear(step, {.aim = config.aim.value})))
            shown.last.push_back(
                markOf(step, config.aim, step.sentence.empty() ? Subject::landing : config.drill.subject));
    if (final || lastTry.size() > 1) put(shown.sentence, words.rest);
    ++changes;
}

// What happens later in the hold may still change the sentence: it comes when the try has ended.
void PracticeScreen::landed(const Landing& landing) {
    remember(landing, false);
    saidAt.reset();
    say(false);
    const auto next = static_cast<std::size_t>(landing.moveNumber);
    if (landing.landingError && next < asked.moves.size() && goesOn(asked.moves[next - 1], asked.moves[next]))
        ask(next);
}

// The step whose target and place are shown.
void PracticeScreen::ask(std::size_t step) {
    if (step >= asked.moves.size()) step = 0;
    if (asked.moves.empty()) return;
    put(shown.step, static_cast<int>(step));
    const Move& move = asked.moves[step];
    const NeckPlace place = move.place.value_or(asked.place);
    std::vector<NeckFinger> others;
    for (const Move& other : move.with)
        if (other.place) others.push_back({*other.place, other.targetFret});
    if (shown.neck.place == place && shown.neck.targetFret == move.targetFret && shown.neck.others == others) return;
    shown.neck.others = std::move(others);
    shown.neck.place = place;
    shown.neck.targetFret = move.targetFret;
    ++changes;
}

void PracticeScreen::ended(const TryEnded& ended) {
    const Kept kept = keeping();
    const auto next = static_cast<std::size_t>(ended.landing.moveNumber);
    const bool more = ended.landing.landingError && next < asked.moves.size();
    Line& line = lineOf(ended.landing.note, ended.landing.tryNumber, ended.landing.onset);
    line.over = !more || !goesOn(asked.moves[next - 1], asked.moves[next]);
    if (line.over) line.live = false;
    line.kept = kept;
    line.trace.marks.push_back(markOf(ended.landing, config.aim, config.drill.subject));
    // What the hand did after the try, letting go of the string, is no part of it.
    const auto later = [&](const TracePoint& point) {
        return line.onset.value + point.sinceStroke.value > ended.landing.end.value;
    };
    if (line.over) {
        std::erase_if(line.trace.points, later);
        dropLoneEnd(line.trace.points);
        for (StringTrace& string : line.trace.strings) std::erase_if(string.points, later);
    }
    marks.push_back({ended.landing.tryNumber, markOf(ended.landing, config.aim, config.drill.subject), kept});
    remember(ended.landing, true);
    // A stroke that came since has the screen.
    const bool newest = lines.back().note == ended.landing.note;
    if (kept == Kept::shown && newest) {
        say(true);
        saidAt = ended.at;
    } else if (newest) {
        put(shown.guessing, kept == Kept::byEar && truthOf(ended.landing, config.aim).has_value());
        wait();
    }
    const auto waiting = std::count_if(
        marks.begin(), marks.end(), [](const Mark& mark) { return mark.kept == Kept::forNow && mark.mark.step == 0; });
    ask(more ? next : 0);
    if (config.telling == Telling::everyFew && !more && waiting >= config.few) reveal(false);
    collect();
}

void PracticeScreen::struck(const TryStruck& struck) {
    const auto same = [&](const auto& each) { return each.tryNumber == struck.tryNumber; };
    std::erase_if(lines, same);
    std::erase_if(marks, same);
    if (shown.moment != Moment::endOfDrill) {
        ask(0);
        wait();
        put(shown.sentence, std::string(struckWords));
    }
    collect();
}

void PracticeScreen::noodled(const Noodling& noodling) {
    const auto before = lines.size();
    std::erase_if(lines, [&](const Line& line) { return line.trace.marks.empty() && line.note == noodling.note; });
    if (lines.size() == before) return;
    if (shown.moment == Moment::playing || (shown.moment == Moment::landed && !saidAt)) wait();
    if (shown.moment == Moment::waiting && !noodling.sentence.empty()) tellWhy(noodling.sentence);
    collect();
}

// "That was fret 9. Play fret 8.": the first in the big line, until the next stroke.
void PracticeScreen::tellWhy(const std::string& sentence) {
    const auto end = sentence.find(". ");
    put(shown.moment, Moment::landed);
    put(shown.landed, end == std::string::npos ? sentence : sentence.substr(0, end));
    put(shown.sentence, end == std::string::npos ? std::string() : sentence.substr(end + 2));
    ++changes;
}

// What to play, and nothing of the last try.
void PracticeScreen::wait() {
    saidAt.reset();
    put(shown.moment, Moment::waiting);
    put(shown.landed, std::string());
    shown.last.clear();
    const bool hiding =
        std::any_of(marks.begin(), marks.end(), [](const Mark& mark) { return mark.kept != Kept::shown; });
    if (shown.guessing) put(shown.sentence, std::string("By ear: was it under, on it or over?"));
    else if (asked.byEar && hiding)
        put(shown.sentence, fmt::format("By ear: was it there? {} shows it.", config.seeKey));
    else if (asked.byEar) put(shown.sentence, std::string("By ear now: listen for where it lands."));
    else put(shown.sentence, config.drill.meanwhile.empty() ? config.drill.how : config.drill.meanwhile);
    ++changes;
}

void PracticeScreen::again() {
    if (asked.phase == DrillPhase::asking && !summary) wait();
}

void PracticeScreen::see() { reveal(true); }

void PracticeScreen::guessed(const std::string& answer) {
    if (lastTry.empty()) return;
    const auto open = [&](auto& each) {
        if (each.tryNumber == lastTry.back().tryNumber) each.kept = Kept::shown;
    };
    std::for_each(lines.begin(), lines.end(), open);
    std::for_each(marks.begin(), marks.end(), open);
    put(shown.guessing, false);
    if (shown.moment != Moment::playing) {
        say(true);
        put(shown.sentence, answer);
        saidAt = clock;
    }
    collect();
}

void PracticeScreen::tell(Telling telling, Tracing tracing) {
    config.telling = telling;
    config.tracing = tracing;
}

void PracticeScreen::reveal(bool byEarToo) {
    bool any = false;
    const auto open = [&](Kept& kept) {
        if (kept == Kept::shown || (kept == Kept::byEar && !byEarToo)) return;
        kept = Kept::shown;
        any = true;
    };
    for (Line& line : lines) open(line.kept);
    for (Mark& mark : marks) open(mark.kept);
    if (!any) return;
    put(shown.guessing, false);
    if (!lastTry.empty() && shown.moment != Moment::playing) {
        say(true);
        saidAt = clock;
    }
    collect();
}

void PracticeScreen::collect() {
    shown.traces.clear();
    shown.scatter.clear();
    shown.lastMarks.clear();
    liveShown = false;
    while (lines.size() > mostTraces + 1) lines.pop_front();
    while (marks.size() > mostMarks) marks.erase(marks.begin());
    for (const Line& line : lines) {
        const bool complete = !line.trace.marks.empty() && line.kept == Kept::shown;
        if (!complete && !line.live) continue;
        shown.traces.push_back(line.trace);
        liveShown = line.live && !line.over && &line == &lines.back();
    }
    shown.before =
        !lines.empty() && !lines.back().live && (lines.back().trace.marks.empty() || lines.back().kept != Kept::shown);
    if (shown.traces.size() > mostTraces) shown.traces.erase(shown.traces.begin());
    for (const Mark& mark : marks)
        if (mark.kept == Kept::shown) shown.scatter.push_back(mark.mark);
    const auto few = std::min(shown.scatter.size(), marksBetween);
    shown.lastMarks.assign(shown.scatter.end() - static_cast<std::ptrdiff_t>(few), shown.scatter.end());
    // Whole tries: a step whose first one no longer fits is left out.
    while (shown.scatter.size() > few && !shown.lastMarks.empty() && shown.lastMarks.front().step > 0)
        shown.lastMarks.erase(shown.lastMarks.begin());
    ++changes;
}

void PracticeScreen::follow(const DrillState& state, Seconds now) {
    clock = now;
    // In a rest the set before stays to be looked at, although the next place is known.
    const bool moved = drawnAt != state.place && state.phase != DrillPhase::resting && state.phase != DrillPhase::done;
    if (moved) drawnAt = state.place;
    const bool wasByEar = asked.byEar;
    const bool otherPhase = !known || asked.phase != state.phase;
    // The player went on in the middle of a try: what was said of it stands as long as any other word.
    if (otherPhase && shown.moment == Moment::landed && !saidAt) saidAt = now;
    const bool otherTry = !known || moved || asked.set != state.set || asked.attempt != state.attempt;
    known = true;
    asked = state;
    // What the player chose holds where the drill leaves it open.
    if (config.tracing == Tracing::byEar && !state.guided) asked.byEar = true;
    const bool wasWaiting = otherPhase || wasByEar != asked.byEar;
    put(shown.prompt, state.prompt);
    put(shown.nextDoes, nextWords(state));
    if (moved) {
        lines.clear();
        marks.clear();
        lastTry.clear();
        collect();
    }
    askFor(state, otherTry);
    goThrough(state, moved, wasWaiting, now);
}

// What of the drill is asked now: its place in the whole, what is drawn, and the steps.
void PracticeScreen::askFor(const DrillState& state, bool otherTry) {
    if (shown.moment != Moment::endOfDrill)
        put(shown.progress,
            fmt::format("set {} of {} · try {} of {}", state.set, state.sets, state.attempt, state.attempts)
                + (state.guided  ? " · guided"
                   : asked.byEar ? " · by ear"
                                 : ""));
    put(shown.feedback, state.guided ? Feedback::guided : asked.byEar ? Feedback::byEar : Feedback::afterTry);
    if (!state.moves.empty()) {
        put(shown.steps, stepsOf(state.moves));
        put(shown.sweepLength, sweepFor(shown.steps));
        if (otherTry || !shown.neck.place) ask(0);
    }
}

// What the drill's phase makes of the moment, once what was said has stood long enough.
void PracticeScreen::goThrough(const DrillState& state, bool moved, bool wasWaiting, Seconds now) {
    const bool stillSaying = shown.moment == Moment::landed && (!saidAt || (now - *saidAt).value < config.landedFor);
    const auto ends = [&] { return !stillSaying && shown.moment != Moment::playing; };
    switch (state.phase) {
        case DrillPhase::asking:
            if (moved || shown.moment == Moment::warmUp || shown.moment == Moment::rest
                || (wasWaiting && !stillSaying && shown.sentence != struckWords))
                wait();
            else if (shown.moment == Moment::landed && !stillSaying) {
                put(shown.moment, Moment::between);
                put(shown.sentence, state.prompt);
            }
            break;
        case DrillPhase::warmUp:
        case DrillPhase::resting: {
            const Moment here = state.phase == DrillPhase::warmUp ? Moment::warmUp : Moment::rest;
            reveal(false);
            if (shown.moment == Moment::playing) wait();
            if (stillSaying && shown.moment == Moment::landed) break;
            if (shown.moment != here) {
                put(shown.moment, here);
                shown.restLength = state.left;
            }
            // "This minute off is for your hand" comes with a key
            const bool elsewhere = here == Moment::rest && drawnAt && *drawnAt != state.place;
            put(shown.sentence,
                state.message.empty() && elsewhere ? "Hand off the neck. Next: " + state.prompt + "." : state.message);
            put(shown.restLeft, Seconds(std::ceil(4.0 * state.left.value) / 4.0));
            break;
        }
        case DrillPhase::stringSlipped:
            if (wasWaiting) wait();
            break;
        case DrillPhase::done:
            if (!summary || !ends() || shown.moment == Moment::endOfDrill) break;
            reveal(true);
            put(shown.moment, Moment::endOfDrill);
            put(shown.progress, std::string());  // "try 5 of 6" is of the past
            sayEnd();
            break;
    }
}

void PracticeScreen::sayEnd() {
    put(shown.summary, summary->words.headline);
    std::string rest = summary->words.rest;
    for (const std::string& more : {summary->guesses, summary->nextStep})
        if (!more.empty()) rest += (rest.empty() ? "" : " ") + more;
    put(shown.sentence, std::move(rest));
}

void PracticeScreen::refuse(const std::string& why) {
    put(shown.moment, Moment::endOfDrill);
    put(shown.summary, std::string("Not now"));
    put(shown.nextDoes, std::string("next drill"));
    put(shown.sentence, why);
}

void PracticeScreen::finish(const DrillSummary& given, Seconds now, std::vector<EndRow> places) {
    summary = given;
    put(shown.ends, std::move(places));
    if (shown.moment == Moment::endOfDrill) return sayEnd();
    if (shown.moment == Moment::playing) wait();
    if (shown.moment == Moment::landed && !saidAt) saidAt = now;
}

}  // namespace landfall
