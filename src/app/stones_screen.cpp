#include "src/app/stones_screen.h"

#include <algorithm>
#include <cmath>

#include <fmt/core.h>

#include "src/music/chord_move.h"

namespace landfall {

namespace {

constexpr double shortestSweep = 0.6;  // s across a stone
constexpr double roomForNames = 1.25;  // of several strings, beside where they end

TryMark markOf(const LineMove& asked, const LineMark& mark, const MoveShown& shown) {
    TryMark made{.verdict = mark.verdict, .firstStop = shown.at, .arrival = shown.arrival};
    made.inside = shown.inside;
    if (mark.outcome == Outcome::died) made.verdict = Verdict::died;
    if (mark.outcome == Outcome::missed) made.verdict = Verdict::notMeasurable;
    if (mark.outcome == Outcome::landed && !kindOf(asked.move.gesture).bends) made.verdict = Verdict::inTune;
    return made;
}

std::string passWords(int pass) { return pass > 0 ? fmt::format("pass {}", pass) : ""; }

}  // namespace

StonesScreen::StonesScreen(std::string title, Guitar played, Cents aim) : guitar(std::move(played)) {
    shown.line = std::move(title);
    shown.aim = aim;
}

void StonesScreen::ask(const Line& given, std::size_t ofWhole) {
    line = given;
    whole = ofWhole;
    passes = 0;
    shown.stones.clear();
    for (const LineMove& each : line.moves) {
        const Move& move = each.move;
        shown.stones.push_back({.step = {Cents(0.0), move.struckNote() - move.to},
                                .goesOn = !each.picked,
                                .name = moveName(move),
                                .aim = ownAim(each),
                                .trace = {},
                                .number = {}});
    }
    again();
}

void StonesScreen::again() {
    for (Stone& stone : shown.stones) stone.before = true;
    shown.moment = Moment::waiting;
    shown.mend.reset();
    const bool part = line.moves.size() < whole;
    shown.progress = part ? fmt::format("{} of {} moves", line.moves.size(), whole) : passWords(passes);
    shown.sentence = part ? "Only what failed: each when you are ready, one after another."
                          : "Take your time: you set the tempo, and a mistake stops nothing.";
    if (!line.moves.empty()) askFor(0);
    ++changes;
}

std::string StonesScreen::moveWords(std::size_t number) const {
    const LineMove& asked = line.moves[number];
    const Move& move = asked.move;
    if (!move.with.empty()) return fmt::format("{}: {}", placeOf(asked), shapeWords(guitar, move));
    std::string words = placeOf(asked) + ": "
                        + filledIn(kindOf(move.gesture).asked, move.gesture, move.width(), move.targetFret.value_or(0));
    if (move.place) words += fmt::format(", {}, fret {}", stringName(guitar, move.place->string), move.place->fret);
    return words;
}

void StonesScreen::askFor(std::size_t move) {
    shown.next = move;
    shown.big = moveWords(move);
}

void StonesScreen::hear(const LineEvent& event, const PassWords& words, const std::string& faster) {
    if (const auto* e = std::get_if<MoveReached>(&event)) reached(e->move);
    if (const auto* e = std::get_if<MoveTold>(&event)) told(e->mark, e->trace);
    if (const auto* e = std::get_if<PassOver>(&event)) over(*e, words, faster);
    ++changes;
}

void StonesScreen::reached(std::size_t move) {
    if (shown.moment != Moment::playing) {
        for (Stone& stone : shown.stones) stone.before = true;
        shown.moment = Moment::playing;
        shown.sentence.clear();
        shown.mend.reset();
    }
    if (move + 1 < line.moves.size()) askFor(move + 1);
    else shown.next.reset();
}

void StonesScreen::told(const LineMark& mark, const LineTrace& trace) {
    Stone& stone = shown.stones[mark.move];
    put(stone, mark, trace);
    LineMark untimed = mark;  // the pulse is known at the end of the pass
    untimed.timing.reset();
    const std::string fault = faultOf(line.moves[mark.move], untimed, shown.aim);
    stone.failed = !fault.empty();
    if (stone.failed) shown.sentence = fault;
}

void StonesScreen::put(Stone& stone, const LineMark& mark, const LineTrace& trace) const {
    const LineMove& asked = line.moves[mark.move];
    const MoveShown played = shownOf(asked, mark, shown.aim);
    stone.before = stone.failed = false;
    stone.trace = {.points = {}, .marks = {markOf(asked, mark, played)}};
    stone.number = played.figure;
    if (trace.empty()) return;
    const Seconds begins = mark.onset.value_or(trace.front().at);
    const auto strings = stringsOf(asked.move);
    for (std::size_t j = 0; j < strings.size() && strings.size() > 1; ++j)
        stone.trace.strings.push_back(
            {strings[j].place ? stringNames(guitar, strings[j].place->string).brief : "", {}});
    for (const LinePoint& point : trace) {
        if (point.at < begins) continue;
        for (std::size_t j = 0; j < point.strings.size(); ++j)
            stone.trace.strings[j].points.push_back({point.at - begins, point.strings[j]});
        if (point.strings.empty()) stone.trace.points.push_back({point.at - begins, point.fromTarget});
    }
    const double room = strings.size() > 1 ? roomForNames : 1.0;
    stone.length = std::max(Seconds(shortestSweep), Seconds(room * (trace.back().at - begins).value));
}

void StonesScreen::over(const PassOver& over, const PassWords& words, const std::string& faster) {
    passes = over.pass;
    for (const LineMark& mark : over.marks.moves) put(shown.stones[mark.move], mark, over.traces[mark.move]);
    for (const std::size_t move : words.moves) shown.stones[move].failed = true;
    shown.moment = Moment::landed;
    shown.next = line.moves.empty() ? std::nullopt : std::optional<std::size_t>(0);
    shown.mend = words.first;
    shown.big = words.headline;
    shown.sentence = words.share + (words.tempo.empty() ? "" : " " + words.tempo);
    breaksFirst = faster;
    if (!faster.empty()) shown.sentence += " " + faster;
    shown.progress = (line.moves.size() < whole ? fmt::format("{} of {} moves · ", line.moves.size(), whole) : "")
                     + passWords(passes);
}

void StonesScreen::follow(const LineState& state, bool anyFailed) {
    const bool otherPhase = state.phase != care.phase, otherWords = state.message != care.message;
    const Seconds left(std::ceil(4.0 * state.left.value) / 4.0);
    const bool part = line.moves.size() < whole;
    std::string next;
    if (state.phase == LinePhase::warmUp) next = "start now";
    else if (state.phase == LinePhase::playing && anyFailed) next = "only what failed";
    else if (state.phase == LinePhase::playing && part) next = "the whole line";
    const std::string againDoes = state.phase == LinePhase::playing ? (part ? "the whole line" : "from the start") : "";
    if (!otherPhase && !otherWords && left == shown.restLeft && next == shown.nextDoes && againDoes == shown.againDoes)
        return;
    ++changes;
    care = state;
    shown.nextDoes = next;
    shown.againDoes = againDoes;
    shown.restLeft = left;
    if (otherPhase) shown.restLength = state.left;
    switch (state.phase) {
        case LinePhase::warmUp: shown.moment = Moment::warmUp; break;
        case LinePhase::resting: shown.moment = Moment::rest; break;
        case LinePhase::done:
            shown.moment = Moment::endOfDrill;
            if (!breaksFirst.empty()) shown.big = breaksFirst;
            shown.next.reset();
            break;
        case LinePhase::playing:
            if (otherPhase) again();
            break;
    }
    if (state.phase == LinePhase::playing || !(otherPhase || otherWords)) return;
    // What there is to mend stays in view through the rest.
    const bool afterPass = state.phase == LinePhase::resting && state.message.empty() && passes > 0;
    shown.sentence = afterPass ? shown.big : state.message;
}

void StonesScreen::end() {
    if (std::exchange(ended, true)) return;
    shown.moment = Moment::endOfDrill;
    ++changes;
}

void StonesScreen::say(std::string sentence) {
    shown.sentence = std::move(sentence);
    ++changes;
}

}  // namespace landfall
