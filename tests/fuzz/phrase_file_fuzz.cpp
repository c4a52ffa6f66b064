// Arbitrary text as a phrase file: an error in one line, or moves in order that can be shown and written as MIDI.
#include <cmath>
#include <string_view>

#include "src/formats/midi_file.h"
#include "src/formats/phrase_file.h"
#include "src/music/guitar.h"
#include "src/system/printable.h"
#include "tests/fuzz/fuzz_input.h"

using namespace landfall;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    const auto phrase = parsePhrase({reinterpret_cast<const char*>(data), size}, "phrase.musicxml");
    if (!phrase) {
        const std::string& said = phrase.error().message;
        mustHold(said.starts_with("phrase.musicxml:"), "an error names the file");
        mustHold(printable(said) == said && said.size() < 500, "an error is one short line without control characters");
        return 0;
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
        last = asked.beat;
    }
    const std::string midi = lineAsMidi(line, line.tempo.value_or(90.0));
    mustHold(midi.starts_with("MThd"), "it can be written as MIDI");
    return 0;
}
