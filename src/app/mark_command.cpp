// `landfall mark TAKE`: how the asked moves landed in a recording.
#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include <fmt/core.h>

#include "src/app/commands.h"
#include "src/app/sitting.h"
#include "src/audio/sound_file.h"
#include "src/formats/drill_file.h"
#include "src/formats/landing_json.h"
#include "src/formats/line_json.h"
#include "src/formats/line_svg.h"
#include "src/formats/phrase_file.h"
#include "src/music/chord_move.h"
#include "src/music/note_name.h"
#include "src/practice/chord_listener.h"
#include "src/practice/effect_ear.h"
#include "src/practice/line_listener.h"
#include "src/practice/line_words.h"
#include "src/practice/listener.h"
#include "src/practice/tally.h"
#include "src/system/printable.h"
#include "src/system/replace_file.h"

namespace landfall {

namespace {

Result<std::vector<Move>> askedMoves(const MarkOptions& options, const std::optional<Drill>& drill) {
    if (drill) {
        Guitar guitar;
        guitar.capo = options.capo;
        guitar.highestFret = options.frets;
        guitar.a4 = Hertz(options.a4);
        auto strings = parseTuning(options.tuning);
        if (!strings) return strings.error();
        guitar.openStrings = *strings;
        if (const auto good = checkGuitar(guitar); !good) return good.error();
        return allMoves(*drill, guitar);
    }
    std::vector<Move> moves;
    for (const std::string& text : options.moves) {
        auto move = namesSeveralStrings(text) ? parseChordMove(text) : parseMove(text);
        if (!move) return move.error();
        moves.push_back(std::move(*move));
    }
    return moves;
}

bool isOfSeveral(const Move& move) { return !move.with.empty(); }

// As the drill asks, else as the player does.
Result<Target> askedTarget(const MarkOptions& options, const std::optional<Drill>& drill,
                           const std::vector<Move>& moves) {
    if (drill && drill->target) return *drill->target;
    const Target target = *targetNamed(options.target);
    const bool several = std::any_of(moves.begin(), moves.end(), isOfSeveral);
    if (target == Target::just && !several)
        return Error{Error::Code::badInput,
                     "--target just is for moves of several strings: ask for one, such as note:D4+B4"};
    if (target == Target::startNote && several)
        return Error{Error::Code::badInput,
                     "--target start-note is for one string: several are held against concert, own-guitar or just"};
    return target;
}

struct Heard {
    std::vector<Landing> landings;  // in the order of the moves
    std::vector<Noodling> others;   // notes that are none of the moves
    std::vector<HeardEffect> effects;
};
// `inARow`: each move was asked once, so that what no single try shows is looked for in the whole.
Heard listen(SoundFile& file, const ListenerConfig& config, std::vector<Move> moves, bool inARow,
             const std::function<void(std::span<const float>)>& alsoHears = {}) {
    const Line line = lineOf(moves);
    LineListener whole(line, config.sampleRate, config.a4);
    Heard heard;
    const auto keep = [&](std::span<const ListenerEvent> events) {
        for (const ListenerEvent& event : events) {
            if (const auto* ended = std::get_if<TryEnded>(&event)) heard.landings.push_back(ended->landing);
            if (const auto* other = std::get_if<Noodling>(&event)) heard.others.push_back(*other);
            if (const auto* effect = std::get_if<EffectHeard>(&event)) heard.effects.push_back(effect->effect);
        }
    };
    Listener listener(config);
    listener.setMoves(std::move(moves), MoveOrder::once);
    std::array<float, 4096> block{};
    while (const std::size_t got = file.read(block)) {
        keep(listener.process(std::span(block).first(got)));
        if (inARow) whole.process(std::span(block).first(got));
        if (alsoHears) alsoHears(std::span(block).first(got));
    }
    keep(listener.finish());
    if (inARow) {
        whole.finish();
        addFromLine(heard.landings, line, whole.marks(), config.aim);
    }
    return heard;
}

// "D4 – E4", eleven columns wide; a hint ends on the note that it starts on.
std::string notesColumn(const Move& move) {
    const std::string notes = notesOf(move);
    // The ♯ and the dash take more bytes than columns, which the width must not count.
    const std::size_t columns = characterCount(notes);
    return notes + std::string(columns < 11 ? 11 - columns : 0, ' ');
}

// "D4, D♯4 31 over": where a note stayed.
std::string staysOf(const Noodling& note) {
    std::string words;
    for (const MidiPitch stay : note.stays) {
        const long cents = std::lround(100.0 * (stay.value - std::round(stay.value)));
        words += (words.empty() ? "" : ", ") + noteName(stay);
        if (cents != 0) words += fmt::format(" {} {}", std::abs(cents), cents < 0 ? "under" : "over");
    }
    return words.empty() ? "no steady pitch" : words;
}

// Of moves that were asked and not found: which, and what was played instead.
std::string notFoundWords(const std::vector<Move>& asked, const Heard& heard) {
    constexpr std::size_t most = 12;  // lines of a kind
    std::vector<std::string> missing;
    for (std::size_t i = 0; i < asked.size(); ++i)
        if (std::none_of(heard.landings.begin(), heard.landings.end(),
                         [&](const Landing& each) { return each.moveNumber == static_cast<int>(i) + 1; }))
            missing.push_back(fmt::format("  move {:<3} {} {}", i + 1, gestureName(asked[i]), notesColumn(asked[i])));
    if (missing.empty()) return {};
    const auto listed = [&](const std::vector<std::string>& lines) {
        std::string all;
        for (std::size_t i = 0; i < std::min<std::size_t>(most, lines.size()); ++i) all += lines[i] + "\n";
        return all + (lines.size() > most ? fmt::format("  and {} more\n", lines.size() - most) : "");
    };
    std::string what = "\nNot heard:\n" + listed(missing);
    if (heard.others.empty() && heard.landings.empty())
        return what + "No note was heard at all. Is this the right file and channel?\n";
    if (heard.others.empty()) return what;
    std::vector<std::string> others;
    for (const Noodling& note : heard.others)
        others.push_back(fmt::format("  {:.3f} s  {}", note.onset.value, staysOf(note)));
    return what + "\nHeard instead (a note a line, with the pitches where it stayed):\n" + listed(others);
}

void printSummary(const std::vector<Landing>& landings, std::size_t asked, Cents aim) {
    if (landings.empty()) {
        fmt::print("{}\n",
                   asked == 1 ? "The move was not heard." : fmt::format("None of the {} moves was heard.", asked));
        return;
    }
    fmt::print("{:>4}  {:<9} {:<11} {:>8} {:>7} {:>6} {:>5}  {}\n", "move", "gesture", "notes", "at s", "landed",
               "first", "sd", "");
    Tally tally;
    int landed = 0;
    for (const Landing& landing : landings) {
        fmt::print("{:>4}  {:<9} {} {:>8} {:>7} {:>6} {:>5}  {}\n", landing.moveNumber, gestureName(landing.move),
                   notesColumn(landing.move),
                   landing.landingTime ? fmt::format("{:.3f}", landing.landingTime->value) : "-",
                   landing.landingError ? fmt::format("{:+.1f}", landing.landingError->value) : "-",
                   landing.firstStopError ? fmt::format("{:+.1f}", landing.firstStopError->value) : "-",
                   landing.sd ? fmt::format("{:.1f}", landing.sd->value) : "-", landing.sentence);
        landed += landing.landingError.has_value();
        tally.add(landing, aim);
    }
    fmt::print("{} of {} moves landed. {}\n", landed, asked, whole(wordsOf(tally.gestures(), aim)));
}

void printLine(const Line& line, const LineMarks& marks, double tempoAsked) {
    fmt::print("{:>4}  {:>3} {:>5}  {:<10} {:<11} {:>8} {:>7} {:>6}  {}\n", "move", "bar", "beat", "gesture", "notes",
               "at s", "landed", "late", "");
    std::size_t landed = 0;
    for (const LineMark& mark : marks.moves) {
        const LineMove& move = line.moves[mark.move];
        const auto& at = mark.landingTime ? mark.landingTime : mark.onset;
        fmt::print("{:>4}  {:>3} {:>5}  {:<10} {} {:>8} {:>7} {:>6}  {}\n", mark.move + 1, move.bar,
                   fmt::format("{:.4g}", move.count), gestureName(move.move.gesture), notesColumn(move.move),
                   at ? fmt::format("{:.3f}", at->value) : "-",
                   mark.landingError && mark.outcome == Outcome::landed
                       ? fmt::format("{:+.1f}", mark.landingError->value)
                       : "-",
                   mark.timing ? fmt::format("{:+.0f}", 1e3 * mark.timing->value) : "-", wordsOf(move, mark));
        landed += mark.outcome == Outcome::landed;
    }
    fmt::print("{} of {} moves landed (cents, and milliseconds late).", landed, marks.moves.size());
    if (!marks.extra.empty())
        fmt::print(" {} more stroke{} than asked.", marks.extra.size(), marks.extra.size() == 1 ? "" : "s");
    if (marks.tempo && tempoAsked > 0.0) fmt::print(" Played at {:.0f}; {:.0f} was asked.", *marks.tempo, tempoAsked);
    else if (marks.tempo) fmt::print(" Played at {:.0f}.", *marks.tempo);
    fmt::print("\n");
}

int markPhrase(const MarkOptions& options) {
    const auto phrase = findPhrase(options.phrase);
    if (!phrase) return fail(phrase.error());
    for (const std::string& what : phrase->notUnderstood) fmt::print(stderr, "landfall: {}\n", what);
    auto file = SoundFile::open(options.take, options.channel);
    if (!file) return fail(file.error());
    LineListener listener(phrase->line, file->sampleRate(), Hertz(options.a4));
    std::array<float, 4096> block{};
    std::vector<HeardEffect> effects;
    while (const std::size_t got = file->read(block))
        for (const ListenerEvent& event : listener.process(std::span(block).first(got)))
            if (const auto* effect = std::get_if<EffectHeard>(&event)) effects.push_back(effect->effect);
    listener.finish();
    for (const std::string& remark : file->remarks()) fmt::print(stderr, "landfall: {}\n", remark);
    for (const HeardEffect effect : effects) fmt::print(stderr, "landfall: {}\n", effectSentence(effect));
    const LineMarks marks = listener.marks();
    const double asked = options.tempo > 0.0 ? options.tempo : phrase->line.tempo.value_or(0.0);
    const Cents aim(options.aim);
    const PassWords words =
        wordsOf(phrase->line, marks, aim, asked > 0.0 ? std::optional<double>(asked) : std::nullopt);
    if (!options.svg.empty()) {
        const auto traces = listener.traces();
        const auto written = replaceFile(options.svg, lineAsSvg(phrase->line, marks, traces, words, aim));
        if (!written) return fail(written.error());
    }
    if (options.json) fmt::print("{}\n", lineMarksAsJson(marks));
    else printLine(phrase->line, marks, asked);
    if (!options.json && words.first) fmt::print("First to mend: {}.\n", words.headline);
    return 0;
}

// Moves of several strings, and between them maybe some of one; each knows its number in the list.
struct Several {
    std::vector<Move> chords;
    std::vector<Move> moves;
    std::vector<int> chordNumbers, moveNumbers;
};
Several parted(const std::vector<Move>& moves) {
    Several asked;
    for (std::size_t i = 0; i < moves.size(); ++i) {
        const bool several = isOfSeveral(moves[i]);
        (several ? asked.chords : asked.moves).push_back(moves[i]);
        (several ? asked.chordNumbers : asked.moveNumbers).push_back(static_cast<int>(i) + 1);
    }
    return asked;
}

void printChords(const std::vector<Landing>& landings, std::size_t asked) {
    const auto cents = [](const std::optional<Cents>& error) {
        return error ? fmt::format("{:+.1f}", error->value) : "-";
    };
    fmt::print("{:>4}  {:<9} {:<11} {:>8} {:>7} {:>6} {:>5} {:>8} {:>6}  {}\n", "move", "gesture", "string", "at s",
               "landed", "first", "sd", "interval", "pure", "");
    for (const Landing& landing : landings) {
        const auto strings = stringsOf(landing.move);
        for (std::size_t j = 0; j < landing.strings.size(); ++j) {
            const StringLanding& string = landing.strings[j];
            const bool first = j == 0;
            fmt::print("{:>4}  {:<9} {} {:>8} {:>7} {:>6} {:>5} {:>8} {:>6}  {}\n",
                       first ? std::to_string(landing.moveNumber) : "", first ? gestureName(landing.move.gesture) : "",
                       notesColumn(strings[j]),
                       first && landing.landingTime ? fmt::format("{:.3f}", landing.landingTime->value) : "",
                       cents(string.landingError), cents(string.firstStopError),
                       string.sd ? fmt::format("{:.1f}", string.sd->value) : "-", first ? "" : cents(string.interval),
                       first ? "" : cents(string.pureInterval), first ? landing.sentence : "");
        }
    }
    fmt::print(
        "{} of {} moves of several strings heard. Interval: from the lowest string's note up, against equal "
        "temperament and against the pure one.\n",
        landings.size(), asked);
}

int markSeveral(SoundFile& file, const ListenerConfig& config, const std::vector<Move>& moves, bool json) {
    const Several asked = parted(moves);
    ChordListener chords(asked.chords, {config.sampleRate, config.a4, config.aim, config.target});
    const auto alsoHears = [&](std::span<const float> block) { chords.process(block); };
    Heard heard = listen(file, config, asked.moves, false, alsoHears);
    for (Landing& landing : heard.landings)
        landing.moveNumber = asked.moveNumbers[static_cast<std::size_t>(landing.moveNumber) - 1];
    auto several = chords.finish();
    for (Landing& landing : several)
        landing.moveNumber = asked.chordNumbers[static_cast<std::size_t>(landing.moveNumber) - 1];
    for (const std::string& remark : file.remarks()) fmt::print(stderr, "landfall: {}\n", remark);
    if (json) {
        std::vector<Landing> all = heard.landings;
        all.insert(all.end(), several.begin(), several.end());
        fmt::print("{}\n", landingsAsJson(all));
        return 0;
    }
    printChords(several, asked.chords.size());
    if (!asked.moves.empty()) printSummary(heard.landings, asked.moves.size(), config.aim);
    return 0;
}

}  // namespace

int runMark(const MarkOptions& options) {
    if (!options.phrase.empty()) return markPhrase(options);
    std::optional<Drill> drill;
    if (!options.drill.empty()) {
        auto found = findDrill(options.drill);
        if (!found) return fail(found.error());
        drill = std::move(*found);
    }
    const auto moves = askedMoves(options, drill);
    if (!moves) return wrongUsage(moves.error());
    const auto target = askedTarget(options, drill, *moves);
    if (!target) return wrongUsage(target.error());
    auto file = SoundFile::open(options.take, options.channel);
    if (!file) return fail(file.error());
    ListenerConfig config;
    config.sampleRate = file->sampleRate();
    config.a4 = Hertz(options.a4);
    config.target = *target;
    config.aim = Cents(options.aim);
    if (std::any_of(moves->begin(), moves->end(), isOfSeveral)) return markSeveral(*file, config, *moves, options.json);
    const Heard heard = listen(*file, config, *moves, !drill && config.target == Target::concert);
    for (const std::string& remark : file->remarks()) fmt::print(stderr, "landfall: {}\n", remark);
    for (const HeardEffect effect : heard.effects) fmt::print(stderr, "landfall: {}\n", effectSentence(effect));
    const std::string notFound = notFoundWords(*moves, heard);
    if (options.json) fmt::print("{}\n", landingsAsJson(heard.landings));
    else printSummary(heard.landings, moves->size(), Cents(options.aim));
    if (!notFound.empty()) fmt::print(options.json ? stderr : stdout, "{}", notFound);
    return 0;
}

}  // namespace landfall
