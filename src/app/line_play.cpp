#include "src/app/line_play.h"

#include <algorithm>
#include <array>
#include <numeric>
#include <utility>

#include "dsp/quantise.h"
#include "src/app/hold_sound.h"
#include "src/practice/chord_landing.h"

namespace landfall {

namespace {

LinePart wholeOf(const Line& line) {
    LinePart all{line, std::vector<std::size_t>(line.moves.size())};
    std::iota(all.moves.begin(), all.moves.end(), std::size_t{0});
    return all;
}

}  // namespace

LinePlay::LinePlay(Config given, StoreWriter& writer)
    : config(std::move(given)), log(writer), task(std::make_shared<Task>(taskOf(config.line))),
      rests(config.care, config.line, Seconds(0.0)) {
    ask(wholeOf(config.line));
}

void LinePlay::ask(LinePart part) {
    // A pass that is left in the middle was played: its tries are kept, and the hand has bent for them.
    if (practice) take(practice->finish(), {[](const LineEvent&) {}, [](const ListenerEvent&) {}});
    practice.reset();
    asked = std::make_unique<LinePart>(std::move(part));
    practice = std::make_unique<LinePractice>(asked->line, config.sampleRate, config.a4);
    lastWords = {};
}

bool LinePlay::onlyFailed() {
    if (lastWords.moves.empty()) return false;
    LinePart part = partOf(asked->line, lastWords.moves);
    for (std::size_t& move : part.moves) move = asked->moves[move];
    ask(std::move(part));
    rests.ask(asked->line);
    return true;
}

void LinePlay::whole() {
    ask(wholeOf(config.line));
    rests.ask(asked->line);
}

bool LinePlay::discard() {
    for (const int row : lastRows) log.strike(row);
    return !std::exchange(lastRows, {}).empty();
}

void LinePlay::hear(std::span<float> samples, std::uint64_t missing, const Told& tell) {
    const std::array<float, 512> silence{};
    for (auto left = std::min<std::uint64_t>(missing, 60 * std::uint64_t{192000}); left > 0;) {
        const auto piece = static_cast<std::size_t>(std::min<std::uint64_t>(left, silence.size()));
        hearPiece(std::span(silence).first(piece), tell);
        left -= piece;
    }
    quantise(samples);
    hearPiece(samples, tell);
}

void LinePlay::hearPiece(std::span<const float> samples, const Told& tell) {
    if (samples.empty()) return;
    heard += samples.size();
    // What was played while the hand rested is none of the line.
    const bool rested = std::exchange(resting, rests.state().phase != LinePhase::playing);
    if (rested && !resting) practice = std::make_unique<LinePractice>(asked->line, config.sampleRate, config.a4);
    const auto events = practice->process(samples);
    for (const ListenerEvent& event : practice->signal()) tell.input(event);
    take(events, tell);
    rests.tick(now());
}

void LinePlay::finish(const Told& tell) {
    take(practice->finish(), tell);
    practice = std::make_unique<LinePractice>(asked->line, config.sampleRate, config.a4);
}

void LinePlay::take(std::span<const LineEvent> events, const Told& tell) {
    for (const LineEvent& event : events) {
        if (rests.state().phase != LinePhase::playing) return;
        if (std::holds_alternative<MoveReached>(event)) rests.played(now());
        if (const auto* over = std::get_if<PassOver>(&event)) passOver(*over);
        tell.line(event);
    }
}

void LinePlay::passOver(const PassOver& over) {
    lastRows.clear();
    ++passes;
    for (Landing& landing : triesOf(asked->line, over.marks, config.aim)) {
        const auto ofPart = static_cast<std::size_t>(landing.moveNumber - 1);
        landing.moveNumber = static_cast<int>(asked->moves[ofPart]) + 1;
        LoggedTry row{.drill = config.line.title, .landing = std::move(landing), .aim = config.aim, .takeFile = {}};
        row.told = ToldWhen::after;
        row.pass = passes;
        const LineMove& whole = config.line.moves[asked->moves[ofPart]];
        row.stroke = strokeKind(whole.move.gesture, whole.picked);
        if (config.line.inTime) row.beat = whole.beat;
        if (!isPart()) {
            row.tempo = over.marks.tempo;
            row.askedTempo = config.tempo;
            row.timing = over.marks.moves[ofPart].timing;
        }
        row.targetCents = targetOf(row.landing);
        row.task = task;
        TryCurve curve;
        HoldSound sound(row);
        for (const LinePoint& point : over.traces[ofPart]) {
            curve.push_back({point.at - row.landing.onset, point.fromTarget});
            if (point.level) sound.add(point.at, *point.level, point.brightness);
        }
        sound.keepIn(row);
        row.curve = packCurve(curve);
        lastRows.push_back(log.add(std::move(row)));
    }
    lastWords = wordsOf(asked->line, over.marks, config.aim, config.tempo);
    if (!isPart() && over.marks.tempo) timed.push_back({*over.marks.tempo, lastWords.moves});
    rests.passOver(asked->line, over.marks, now());
}

void LinePlay::lead(SoundSource& source) const {
    AskedPlayer* player = source.player();
    if (player != nullptr && rests.state().phase == LinePhase::playing)
        player->askedLine(asked->line, config.tempo.value_or(config.line.tempo.value_or(usualTempo)));
}

}  // namespace landfall
