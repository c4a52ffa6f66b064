// What a phrase must be, from whatever file it was read. For the fuzzers.
#pragma once

#include <cmath>
#include <string_view>

#include "src/formats/midi_file.h"
#include "src/formats/phrase_file.h"
#include "src/music/guitar.h"
#include "src/system/printable.h"
#include "tests/fuzz/fuzz_input.h"

namespace landfall {

// An error in one line that begins with `names`, or moves in order that can be shown and written as MIDI.
inline void checkPhrase(const Result<PhraseFile>& phrase, std::string_view names) {
    if (!phrase) {
        const std::string& said = phrase.error().message;
        mustHold(said.starts_with(names), "an error names the file");
        mustHold(printable(said) == said && said.size() < 500, "an error is one short line without control characters");
        return;
    }
    const Line& line = phrase->line;
    mustHold(!line.moves.empty(), "a phrase has a move");
    mustHold(std::isfinite(line.length) && line.length > 0.0, "it takes time");
    mustHold(printable(line.title) == line.title, "its title can be shown");
    for (const std::string& kind : phrase->notUnderstood) mustHold(printable(kind) == kind, "so can what is listed");
    Guitar guitar;
    guitar.openStrings = line.openStrings;
    guitar.capo = line.capo;
    mustHold(static_cast<bool>(checkGuitar(guitar)), "it is written for a guitar");
    double last = 0.0;
    for (const LineMove& asked : line.moves) {
        const Move& move = asked.move;
        mustHold(asked.beat >= last - 1e-6 && asked.beat <= line.length + 1e-6, "moves are in order, within the line");
        mustHold(asked.ends > 0.0 && asked.ends <= line.length + 1e-6, "notes end within the line");
        mustHold(move.place && hasPlace(guitar, *move.place), "a move has a place on the neck");
        mustHold(!move.targetFret || hasPlace(guitar, {move.place->string, *move.targetFret}), "and ends on one");
        mustHold(std::abs(move.width()) <= 24.0, "it goes no further than a neck");
        if (kindOf(move.gesture).bends) mustHold(std::abs(move.width()) <= 5.01, "a bend is one that a string can do");
        mustHold(asked.hint.least > 0.0 && asked.hint.least < asked.hint.most, "a hint has a range");
        mustHold(!asked.lingers || asked.lingers->value > 0.0, "a limit is longer than nothing");
        mustHold(!asked.leaves || *asked.leaves <= asked.beat + 1e-6, "who sets out arrives later");
        mustHold(printable(asked.listen) == asked.listen, "what to listen for can be shown");
        last = asked.beat;
    }
    const std::string midi = lineAsMidi(line, line.tempo.value_or(90.0));
    mustHold(midi.starts_with("MThd"), "it can be written as MIDI");
}

}  // namespace landfall
