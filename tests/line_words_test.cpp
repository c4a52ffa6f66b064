#include <doctest/doctest.h>

#include <string>
#include <vector>

#include "src/practice/line_words.h"
#include "tests/support/played_line.h"

using namespace landfall;

namespace {

// All landed, in time.
LineMarks played(const Line& line) {
    LineMarks marks;
    for (std::size_t i = 0; i < line.moves.size(); ++i)
        marks.moves.push_back({.move = i,
                               .outcome = Outcome::landed,
                               .landingError = Cents(0.0),
                               .firstStopError = Cents(0.0),
                               .sd = Cents(0.5),
                               .timing = Seconds(0.0)});
    marks.tempo = 91.6;
    return marks;
}

constexpr Cents aim{25.0};

}  // namespace

TEST_CASE("a pass without a fault says so, with its tempo") {
    const Line line = shortLine();
    const PassWords words = wordsOf(line, played(line), aim);
    CHECK(words.share == "8 of 8 landed.");
    CHECK(words.headline == "All of it, every bend within 25 cents");
    CHECK(words.failed.empty());
    CHECK(words.tempo == "Played at 92.");
    CHECK(words.moves.empty());
    CHECK_FALSE(words.first);
    CHECK(wordsOf(line, played(line), aim, 100.0).tempo == "Played at 92; 100 asked.");
}

TEST_CASE("the one thing to mend is a wrong note, then a missed one, a dead one, the largest first stop, the latest") {
    const Line line = shortLine();
    LineMarks marks = played(line);
    marks.moves[3].timing = Seconds(0.07);
    marks.moves[7].timing = Seconds(0.11);
    CHECK(wordsOf(line, marks, aim).headline == "Bar 2, beat 4: the C4 came 110 ms late");
    marks.moves[5].firstStopError = Cents(26.0);
    marks.moves[0].firstStopError = Cents(-31.4);
    CHECK(wordsOf(line, marks, aim).headline == "Bar 1, beat 1: the full step stopped 31 under");
    CHECK(wordsOf(line, marks, Cents(30.0)).failed.front() == "Bar 1, beat 4: the D4 came 70 ms late");
    marks.moves[1].outcome = Outcome::died;
    CHECK(wordsOf(line, marks, aim).headline == "Bar 1, beat 2: the release died before it arrived");
    marks.moves[2].outcome = Outcome::missed;
    CHECK(wordsOf(line, marks, aim).headline == "Bar 1, beat 3: the E4 was not played");
    marks.moves[4].outcome = Outcome::wrongNote;
    marks.moves[4].heard = MidiPitch(66.1);
    marks.extra = {Seconds(3.0)};
    const PassWords words = wordsOf(line, marks, aim);
    CHECK(words.share == "5 of 8 landed, 1 stroke too many.");
    CHECK(words.headline == "Bar 2, beat 1: F♯4 in place of the F4");
    CHECK(words.moves == std::vector<std::size_t>{0, 1, 2, 3, 4, 5, 7});
    CHECK(words.first == 4u);
    CHECK(words.failed
          == std::vector<std::string>{
              "Bar 1, beat 1: the full step stopped 31 under", "Bar 1, beat 2: the release died before it arrived",
              "Bar 1, beat 3: the E4 was not played", "Bar 1, beat 4: the D4 came 70 ms late",
              "Bar 2, beat 2: the half step stopped 26 over", "Bar 2, beat 4: the C4 came 110 ms late"});
}

TEST_CASE("the fret of a plain note is the guitar's affair, and what was hardly heard blames nobody") {
    const Line line = shortLine();
    LineMarks marks = played(line);
    marks.moves[2].firstStopError = Cents(40.0);
    marks.moves[5].firstStopError = Cents(40.0);
    marks.moves[5].sd = Cents(20.0);
    CHECK(wordsOf(line, marks, aim).headline == "All of it, every bend within 25 cents");
    Line plain = line;
    for (LineMove& each : plain.moves) each.move.gesture = Gesture::note;
    CHECK(wordsOf(plain, played(plain), aim).headline == "All of it");
}

TEST_CASE("where a line was given up is said in one line") {
    const Line line = shortLine();
    LineMarks marks = played(line);
    for (std::size_t i = 4; i < 8; ++i) marks.moves[i] = {.move = i};
    const PassWords words = wordsOf(line, marks, aim);
    CHECK(words.headline == "Bar 2, beat 1: from here on nothing was played, 4 moves");
    CHECK(words.failed.empty());
    CHECK(words.moves == std::vector<std::size_t>{4, 5, 6, 7});
}

TEST_CASE("a pass leaves its bends and slides as tries, each with its verdict; what was not played is none") {
    Line line = shortLine();
    line.moves[6] = lineMove(Gesture::slide, 64, 69, 6);
    LineMarks marks = played(line);
    for (LineMark& mark : marks.moves) mark.landingTime = mark.holdLength = mark.onset = Seconds(1.0);
    marks.moves[0].landingError = marks.moves[0].firstStopError = Cents(-103.0);
    marks.moves[0].outcome = Outcome::wrongNote;
    marks.moves[1] = {.move = 1, .outcome = Outcome::died, .onset = Seconds(2.0)};
    marks.moves[5] = {.move = 5};
    const auto tries = triesOf(line, marks, Cents(25.0));
    REQUIRE(tries.size() == 3);
    CHECK(tries[0].moveNumber == 1);
    CHECK(tries[0].sentence == "That was a half step, not a full step.");
    CHECK(tries[1].verdict == Verdict::died);
    CHECK(tries[1].onset == Seconds(2.0));
    CHECK(tries[2].moveNumber == 7);
    CHECK(tries[2].verdict == Verdict::deadOn);
    // The aim asked decides what is good.
    marks.moves[6].landingError = marks.moves[6].firstStopError = Cents(-13.0);
    CHECK(triesOf(line, marks, Cents(25.0))[2].sentence.find("Good") == 0);
    CHECK(triesOf(line, marks, Cents(10.0))[2].sentence.find("Good") != 0);
}

TEST_CASE("of a move that landed is said what it is: a hint its height, a fret its number, a fall its length") {
    const auto landed = [](Gesture gesture, double from, double to, double error = 0.0) {
        LineMove asked = lineMove(gesture, from, to, 0);
        LineMark mark{.move = 0, .outcome = Outcome::landed, .landingError = Cents(error), .verdict = Verdict::inTune};
        return wordsOf(asked, mark);
    };
    CHECK(landed(Gesture::bend, 62, 64) == "in tune");
    CHECK(landed(Gesture::hint, 62, 62.4, 5.0) == "went 45 cents");
    for (const Gesture fretted : {Gesture::slip, Gesture::hammerOn, Gesture::pullOff, Gesture::slide})
        CHECK(landed(fretted, 62, 64, 4.0) == "right fret");
    LineMark fell{.move = 0, .outcome = Outcome::landed, .heard = MidiPitch(55.1)};
    CHECK(wordsOf(lineMove(Gesture::fall, 62, 57, 0), fell) == "fell 7 frets");
    // From 0.12 s on the first note of a slide is heard as one.
    LineMark slid{.move = 0, .outcome = Outcome::landed, .landingError = Cents(0.0), .lingered = Seconds(0.11)};
    CHECK(wordsOf(lineMove(Gesture::slide, 62, 64, 0), slid) == "right fret");
    slid.lingered = Seconds(0.19);
    CHECK(wordsOf(lineMove(Gesture::slide, 62, 64, 0), slid) == "right fret, its first note for 0.19 s");
    slid.outcome = Outcome::missed;
    CHECK(wordsOf(lineMove(Gesture::slide, 62, 64, 0), slid) == "not played");
}
