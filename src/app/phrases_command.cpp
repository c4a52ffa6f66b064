// `landfall phrases`: lists the phrases; `landfall phrases TITLE` prints the moves of one, or writes it as a MIDI file.
#include <cmath>
#include <iterator>
#include <string>
#include <vector>

#include <fmt/core.h>
#include <fmt/ranges.h>

#include "src/app/commands.h"
#include "src/app/sitting.h"
#include "src/formats/midi_file.h"
#include "src/formats/phrase_file.h"
#include "src/formats/table.h"
#include "src/music/chord_move.h"
#include "src/music/guitar.h"
#include "src/music/note_name.h"
#include "src/system/replace_file.h"

namespace landfall {

namespace {

constexpr double usualTempo = 90.0;  // quarters a minute, where the score has none

Cell tempoOf(const Line& line) { return line.tempo ? Cell(*line.tempo) : Cell(); }

Table phrasesTable(const std::vector<PhraseFile>& phrases) {
    Table table{{"phrase", "bars", "moves", "quarters_a_minute"}, {}};
    for (const PhraseFile& each : phrases) {
        const Line& line = each.line;
        table.rows.push_back({line.title, std::ssize(line.barBegins), std::ssize(line.moves), tempoOf(line)});
    }
    return table;
}

// "G4", "E4 +40" with cents.
std::string pitchWords(MidiPitch pitch) {
    const double cents = std::round(100.0 * (pitch.value - std::floor(pitch.value)));
    const std::string name = noteName(MidiPitch(std::floor(pitch.value)));
    return cents == 0.0 ? name : fmt::format("{} +{:g}", name, cents);
}

std::string gestureWords(const LineMove& asked) {
    const Move& move = asked.move;
    std::string words =
        filledIn(kindOf(move.gesture).task, move.gesture, move.width(), move.targetFret.value_or(move.place->fret));
    if (move.gesture == Gesture::hint) words += fmt::format(", {:g} to {:g} cents", asked.hint.least, asked.hint.most);
    if (asked.vibrato && move.gesture != Gesture::vibrato) words += ", with vibrato";
    if (asked.lingers) words += fmt::format(", at most {:g} s on the first note", asked.lingers->value);
    return words;
}

// What each string of a move does, from low to high: "3 + 2".
template <typename Words>
std::string ofStrings(const Move& move, const Words& words) {
    std::vector<std::string> all;
    for (const Move& string : stringsOf(move)) all.push_back(words(string));
    return fmt::format("{}", fmt::join(all, " + "));
}

Cell numbers(const Move& move, int NeckPlace::*which) {
    if (move.with.empty()) return static_cast<std::int64_t>((*move.place).*which);
    return ofStrings(move, [which](const Move& each) { return std::to_string((*each.place).*which); });
}

Table movesTable(const Line& line) {
    Table table{{"move", "bar", "beat", "string", "fret", "from", "to", "gesture", "stroke"}, {}};
    for (std::size_t i = 0; i < line.moves.size(); ++i) {
        const LineMove& asked = line.moves[i];
        table.rows.push_back({static_cast<std::int64_t>(i + 1),
                              line.inTime ? Cell(static_cast<std::int64_t>(asked.bar)) : Cell(),
                              line.inTime ? fmt::format("{:g}", std::round(100.0 * asked.count) / 100.0) : "",
                              numbers(asked.move, &NeckPlace::string), numbers(asked.move, &NeckPlace::fret),
                              ofStrings(asked.move, [](const Move& each) { return pitchWords(each.from); }),
                              asked.move.gesture == Gesture::fall
                                  ? ""
                                  : ofStrings(asked.move, [](const Move& each) { return pitchWords(each.to); }),
                              gestureWords(asked), std::string(asked.picked ? "picked" : "goes on")});
    }
    return table;
}

// The other strings that are struck too: string, fret, from and to of each, "2:8:67:69 1:8:72:72".
std::string othersData(const Move& move) {
    std::vector<std::string> all;
    for (const Move& each : move.with)
        all.push_back(
            fmt::format("{}:{}:{:g}:{:g}", each.place->string, each.place->fret, each.from.value, each.to.value));
    return fmt::format("{}", fmt::join(all, " "));
}

// The table for programs: numbers for notes, the gesture by its name.
Table movesData(const Line& line) {
    Table table{{"number",
                 "bar",
                 "beat",
                 "gesture",
                 "string",
                 "fret",
                 "target_fret",
                 "from_midi",
                 "to_midi",
                 "picked",
                 "vibrato",
                 "quarters",
                 "anchor",
                 "leaves_quarters",
                 "ends_quarters",
                 "hint_least_cents",
                 "hint_most_cents",
                 "linger_s",
                 "listen",
                 "with"},
                {}};
    for (std::size_t i = 0; i < line.moves.size(); ++i) {
        const LineMove& asked = line.moves[i];
        const Move& move = asked.move;
        const bool hint = move.gesture == Gesture::hint;
        table.rows.push_back({static_cast<std::int64_t>(i + 1),
                              static_cast<std::int64_t>(asked.bar),
                              asked.count,
                              std::string(gestureName(move.gesture)),
                              static_cast<std::int64_t>(move.place->string),
                              static_cast<std::int64_t>(move.place->fret),
                              move.targetFret ? Cell(static_cast<std::int64_t>(*move.targetFret)) : Cell(),
                              move.from.value,
                              move.to.value,
                              asked.picked,
                              asked.vibrato,
                              asked.beat,
                              std::string(asked.anchor == Anchor::onset ? "onset" : "landing"),
                              asked.leaves ? Cell(*asked.leaves) : Cell(),
                              asked.ends,
                              hint ? Cell(asked.hint.least) : Cell(),
                              hint ? Cell(asked.hint.most) : Cell(),
                              asked.lingers ? Cell(asked.lingers->value) : Cell(),
                              asked.listen,
                              othersData(move)});
    }
    return table;
}

void explain(const PhraseFile& phrase) {
    const Line& line = phrase.line;
    fmt::print("{}\n{} bars, {} moves, {}\n", line.title, line.barBegins.size(), line.moves.size(),
               line.tempo ? fmt::format("{:g} quarters a minute", *line.tempo) : "no tempo");
    if (line.openStrings != Guitar{}.openStrings || line.capo > 0)
        fmt::print("Tuning {}{}\n", tuningName(line.openStrings),
                   line.capo > 0 ? fmt::format(", capo on {}; frets count from it", line.capo) : "");
    if (!line.listen.empty()) fmt::print("Listen: {}\n", line.listen);
    fmt::print("\n{}", toColumns(movesTable(line)));
    bool first = true;
    for (std::size_t i = 0; i < line.moves.size(); ++i)
        if (!line.moves[i].listen.empty()) {
            fmt::print("{}  move {:<3} {}\n", first ? "\nWhat to listen for:\n" : "", i + 1, line.moves[i].listen);
            first = false;
        }
    if (!phrase.notUnderstood.empty()) fmt::print("\nNot understood, and not asked for:\n");
    for (const std::string& kind : phrase.notUnderstood) fmt::print("  {}\n", kind);
}

int list(bool json) {
    std::vector<PhraseFile> all = builtInPhrases();
    if (const auto folder = ownPhrasesFolder()) {
        OwnPhrases own = ownPhrases(*folder);
        all.insert(all.end(), std::make_move_iterator(own.phrases.begin()), std::make_move_iterator(own.phrases.end()));
        for (const std::string& problem : own.problems) fmt::print(stderr, "landfall: {}\n", problem);
    }
    if (json) {
        fmt::print("{}\n", toJson({{"phrases", phrasesTable(all)}}));
        return 0;
    }
    fmt::print("{}\n`landfall phrases NAME` prints one, move by move.\n", toColumns(phrasesTable(all)));
    return 0;
}

int writeMidi(const Line& line, const PhrasesOptions& options) {
    const double tempo = options.tempo > 0.0 ? options.tempo : line.tempo.value_or(usualTempo);
    if (const auto written = replaceFile(options.midi, lineAsMidi(line, tempo)); !written) return fail(written.error());
    fmt::print("{}: {} moves at {:g} quarters a minute\n", printable(options.midi), line.moves.size(), tempo);
    return 0;
}

}  // namespace

int runPhrases(const PhrasesOptions& options) {
    if (options.phrase.empty()) return list(options.json);
    const auto phrase = findPhrase(options.phrase);
    if (!phrase) return fail(phrase.error());
    if (!options.midi.empty()) return writeMidi(phrase->line, options);
    if (options.file) {
        const std::string_view text = builtInPhraseText(phrase->line.title);
        if (text.empty())
            return fail({Error::Code::notFound, fmt::format("'{}' is a file of your own already", options.phrase)});
        fmt::print("{}", text);
    } else if (options.json) {
        Table others{{"what"}, {}};
        for (const std::string& kind : phrase->notUnderstood) others.rows.push_back({kind});
        fmt::print("{}\n", toJson({{"phrase", phrasesTable({*phrase}), true},
                                   {"moves", movesData(phrase->line)},
                                   {"not_understood", others}}));
    } else {
        explain(*phrase);
    }
    return 0;
}

}  // namespace landfall
