// Whole lines on sampled guitars: our own MIDI file of what a player did, played by fluidsynth, held against what was
// asked.
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <string>
#include <vector>

#include "dsp/quantise.h"
#include "src/audio/sound_file.h"
#include "src/formats/line_json.h"
#include "src/formats/midi_file.h"
#include "src/formats/phrase_file.h"
#include "src/practice/line_listener.h"
#include "src/practice/line_words.h"
#include "src/music/guitar.h"
#include "tests/support/command.h"
#include "tests/support/heard_line.h"
#include "tests/support/rendered_guitar.h"

using namespace landfall;

namespace {

Line phraseNamed(const char* title) {
    auto phrase = findPhrase(title);
    REQUIRE(phrase);
    return std::move(phrase->line);
}

std::optional<LineMarks> marksOf(const Line& played, const Line& asked, double tempo, Place place = Place::line) {
    std::string why;
    const auto samples = renderMidi(lineAsMidi(played, tempo), why, place);
    if (!samples) {
        MESSAGE(why);
        return std::nullopt;
    }
    LineListener listener(asked, 48000.0, standardA4);
    listener.process(*samples);
    listener.finish();
    return listener.marks();
}

int landed(const LineMarks& marks) {
    return static_cast<int>(std::ranges::count(marks.moves, Outcome::landed, &LineMark::outcome));
}

std::string outcomes(const LineMarks& marks) {
    std::string all;
    for (const LineMark& mark : marks.moves)
        if (mark.outcome != Outcome::landed)
            all += std::to_string(mark.move + 1) + " " + std::string(outcomeName(mark.outcome)) + "; ";
    return all;
}

// A move that is picked, stands and is followed by another stroke: it can be left out, changed or doubled.
std::size_t plainNote(const Line& line, std::size_t from) {
    for (std::size_t i = from; i + 1 < line.moves.size(); ++i)
        if (line.moves[i].move.gesture == Gesture::note && line.moves[i + 1].picked) return i;
    FAIL("no plain note");
    return 0;
}

}  // namespace

TEST_CASE("strings struck together on a sampled guitar land string by string, and a wrong one is named") {
    const Line line = phraseNamed("both windows");
    const auto marks = marksOf(line, line, 66.0);
    if (!marks) return;
    CAPTURE(outcomes(*marks));
    CHECK(landed(*marks) == static_cast<int>(line.moves.size()));
    CHECK(marks->extra.empty());
    for (const LineMark& mark : marks->moves)
        for (const StringLanding& string : mark.strings) {
            CAPTURE(mark.move + 1);
            REQUIRE(string.landingError);
            CHECK(std::abs(string.landingError->value) < 20.0);  // the samples' own tuning among it
        }
    Line wrong = line;
    wrong.moves[1].move.with.front().from = wrong.moves[1].move.with.front().to =
        MidiPitch(line.moves[1].move.with.front().to.value - 1.0);
    wrong.moves[1].move.with.front().place->fret -= 1;
    const auto told = marksOf(wrong, line, 66.0);
    REQUIRE(told);
    CHECK(told->moves[1].outcome == Outcome::wrongNote);
    CHECK(wordsOf(line.moves[1], told->moves[1]).find("G♯4 sounded in place of A4") != std::string::npos);
}

TEST_CASE("a phrase on a sampled guitar lands move by move, dry and in a room, and its tempo is found") {
    for (const char* title : {"two stairs down", "lantern street", "rain on the awning", "same line elsewhere"}) {
        const Line line = phraseNamed(title);
        for (const Place place : {Place::line, Place::room}) {
            const double tempo = line.tempo.value_or(80.0);
            const auto marks = marksOf(line, line, tempo, place);
            if (!marks) return;
            CAPTURE(title);
            CAPTURE(outcomes(*marks));
            CHECK(landed(*marks) >= static_cast<int>(line.moves.size()) - (place == Place::room ? 1 : 0));
            CHECK(marks->extra.empty());
            REQUIRE(marks->tempo);
            CHECK(std::abs(*marks->tempo / tempo - 1.0) < 0.02);
        }
    }
}

TEST_CASE("what a player leaves out, plays wrong, adds or begins again is told by its number") {
    const Line line = phraseNamed("two stairs down");
    const double tempo = line.tempo.value_or(80.0);
    const std::size_t at = plainNote(line, 2);
    CAPTURE(at + 1);
    SUBCASE("left out") {
        Line played = line;
        played.moves.erase(played.moves.begin() + static_cast<std::ptrdiff_t>(at));
        const auto marks = marksOf(played, line, tempo);
        if (!marks) return;
        CAPTURE(outcomes(*marks));
        CHECK(marks->moves[at].outcome == Outcome::missed);
        CHECK(landed(*marks) == static_cast<int>(line.moves.size()) - 1);
    }
    SUBCASE("a fret too high") {
        Line played = line;
        Move& move = played.moves[at].move;
        move.from = move.to = MidiPitch(move.to.value + 1.0);
        const auto marks = marksOf(played, line, tempo);
        if (!marks) return;
        CAPTURE(outcomes(*marks));
        CHECK(marks->moves[at].outcome == Outcome::wrongNote);
        REQUIRE(marks->moves[at].heard);
        CHECK(std::abs(marks->moves[at].heard->value - line.moves[at].move.to.value - 1.0) < 0.2);
        CHECK(landed(*marks) == static_cast<int>(line.moves.size()) - 1);
    }
    SUBCASE("a stray note before it") {
        Line played = line;
        LineMove stray = line.moves[at];
        stray.beat -= 0.25;
        stray.ends = line.moves[at].beat;
        stray.move.from = stray.move.to = MidiPitch(line.moves[at].move.to.value + 6.0);
        played.moves.insert(played.moves.begin() + static_cast<std::ptrdiff_t>(at), stray);
        const auto marks = marksOf(played, line, tempo);
        if (!marks) return;
        CAPTURE(outcomes(*marks));
        CHECK(landed(*marks) == static_cast<int>(line.moves.size()));
        CHECK(marks->extra.size() == 1);
    }
    SUBCASE("begun again at the second bar") {
        REQUIRE(line.barBegins.size() > 2);
        const double bar = line.barBegins[1], back = line.barBegins[2] - bar;
        Line played = line;
        played.moves.clear();
        for (const LineMove& move : line.moves)
            if (move.beat < bar + back - 1e-6) played.moves.push_back(move);
        std::size_t again = 0;
        for (LineMove move : line.moves) {
            if (move.beat < bar - 1e-6) continue;
            again += move.picked && move.beat < bar + back - 1e-6;
            move.beat += back;
            move.ends += back;
            played.moves.push_back(move);
        }
        played.length += back;
        const auto marks = marksOf(played, line, tempo);
        if (!marks) return;
        CAPTURE(outcomes(*marks));
        CHECK(landed(*marks) == static_cast<int>(line.moves.size()));
        CHECK(marks->extra.size() == again);
        CHECK(std::abs(*marks->tempo / tempo - 1.0) < 0.02);
    }
}

TEST_CASE("landfall mark --phrase says what the engine heard, as a table and as JSON") {
    const Line line = phraseNamed("two stairs down");
    std::string why;
    auto samples = renderMidi(lineAsMidi(line, *line.tempo), why);
    if (!samples) return;
    const TestFolder folder;
    const std::string take = (folder / "take.flac").string();
    for (float& sample : *samples) sample = quantise(sample);
    REQUIRE(writeFlac(take, 48000.0, *samples));
    LineListener listener(line, 48000.0, standardA4);
    listener.process(*samples);
    listener.finish();
    const std::string mark = "'" LANDFALL_PROGRAM "' mark '" + take + "' --phrase 'two stairs down'";
    const auto json = runCommand(mark + " --json");
    CHECK(json.status == 0);
    CHECK(json.output == lineMarksAsJson(listener.marks()) + "\n");
    const auto table = runCommand(mark + " --tempo 100");
    CHECK(table.output.find("\n17 of 17 moves landed") != std::string::npos);
    CHECK(table.output.find("Played at 92; 100 was asked.") != std::string::npos);
}

TEST_CASE("another line than the one asked is not followed") {
    const Line asked = phraseNamed("two stairs down"), played = phraseNamed("lantern street");
    const auto marks = marksOf(played, asked, played.tempo.value_or(80.0));
    if (!marks) return;
    CHECK(landed(*marks) < static_cast<int>(asked.moves.size()) / 2);
}

namespace {

LineMove onG(Gesture gesture, int fret, double from, double to, double beat, bool picked = true) {
    LineMove made = move(gesture, from, to, beat, picked);
    made.move.place = NeckPlace{3, fret};
    made.ends = beat + 1.0;
    if (gesture == Gesture::slip) made.anchor = Anchor::landing;
    if (kindOf(gesture).overFrets && gesture != Gesture::fall)
        made.move.targetFret = fret + static_cast<int>(std::lround(to - from));
    return made;
}

}  // namespace

// The wheel is programmed, so where each move lands is known beforehand; what the sample itself is off is read by Fourier
// peaks where the landing was read.
TEST_CASE(
    "hints, slips, hammer-ons, pull-offs, falls and slides on sampled guitars land where an independent estimator "
    "says") {
    using enum Gesture;
    Line line = lineOf({onG(hint, 9, 64, 64.4, 0), onG(note, 7, 62, 62, 1), onG(bend, 9, 64, 66, 2),
                        onG(release, 9, 66, 64, 3, false), onG(slip, 9, 64, 64, 4, false), onG(note, 7, 62, 62, 5),
                        onG(hammerOn, 7, 62, 64, 6, false), onG(pullOff, 9, 64, 62, 7, false), onG(fall, 9, 64, 57, 8),
                        onG(note, 9, 64, 64, 10), onG(slide, 8, 63, 64, 12), onG(slide, 7, 62, 64, 14),
                        onG(bend, 11, 66, 67, 15), onG(bend, 9, 64, 66, 16, false)});
    line.openStrings = Guitar{}.openStrings;
    line.length = 18.0;
    for (const int program : {25, 26, 27}) {
        CAPTURE(program);
        std::string why;
        const auto samples = renderMidi(lineAsMidi(line, 60.0, program), why);
        if (!samples) {
            MESSAGE(why);
            return;
        }
        LineListener listener(line, 48000.0, standardA4);
        listener.process(*samples);
        listener.finish();
        const LineMarks marks = listener.marks();
        CAPTURE(outcomes(marks));
        CHECK(landed(marks) == static_cast<int>(line.moves.size()));
        CHECK(marks.extra.empty());
        double worst = 0.0;
        int measured = 0;
        for (const LineMark& mark : marks.moves) {
            const LineMove& asked = line.moves[mark.move];
            CAPTURE(mark.move + 1);
            if (asked.move.gesture == fall) {
                REQUIRE(mark.heard);
                CHECK(std::abs(mark.heard->value - 57.0) < 1.0);
                continue;
            }
            REQUIRE(mark.landingError);
            if (asked.move.gesture == hint) {  // its top is too short for a peak: against what was programmed
                CHECK(std::abs(mark.landingError->value) < 6.0);
                continue;
            }
            const double from = mark.landingTime->value + 0.06,
                         to = std::min(from + 0.25, mark.landingTime->value + mark.holdLength->value - 0.03);
            if (to - from < 0.1) continue;
            ++measured;
            const double target = frequencyOf(asked.move.to).value;
            const double peak = interval(Hertz(target), Hertz(firstPartial(*samples, from, to, target))).value;
            worst = std::max(worst, std::abs(mark.landingError->value - peak));
            CHECK(std::abs(mark.landingError->value - peak) < 4.0);  // samples wander by as much within the window
        }
        MESSAGE("program " << program << ": " << measured << " moves measured, worst " << worst << " cents");
        CHECK(measured >= 10);
    }
}
