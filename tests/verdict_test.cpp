#include <doctest/doctest.h>

#include <utility>

#include "src/practice/tally.h"
#include "src/practice/verdict.h"

using namespace landfall;

namespace {

struct Row {
    Gesture gesture;
    double from, to;  // MIDI
    double error;     // landing
    const char* verdict;
    const char* sentence;
    double firstStop = 0.0;
    bool corrected = false;
    double overshoot = 0.0, sag = 0.0, linger = 0.3;
};

Landing landingOf(const Row& row) {
    Landing landing;
    landing.move = {row.gesture, MidiPitch(row.from), MidiPitch(row.to), std::nullopt, std::nullopt};
    landing.landingError = Cents(row.error);
    landing.firstStopError = Cents(row.corrected ? row.firstStop : row.error);
    if (row.corrected) landing.correction = Cents(row.error - row.firstStop);
    if (row.overshoot > 0) landing.overshoot = Cents(row.overshoot);
    landing.sag = Cents(row.sag);
    if (row.gesture == Gesture::slide) landing.linger = Seconds(row.linger);
    return landing;
}

}  // namespace

TEST_CASE("Each landing gets its fixed word and its one sentence") {
    using enum Gesture;
    // The bands, ±5 / ±10 / ±25 cents, at their edges; then one fault each in the order right note, first stop, hold,
    // time.
    const Row rows[] = {
        {bend, 62, 64, 0, "dead on", "Dead on, and it stayed."},
        {bend, 62, 64, -5, "dead on", "Dead on, and it stayed."},
        {bend, 62, 64, 7, "in tune", "In tune, 7 over."},
        {bend, 62, 64, -10, "in tune", "In tune, 10 under."},
        {bend, 62, 64, -22, "near", "Good, 22 under."},
        {bend, 62, 64, 25, "near", "Good, 25 over."},
        {bend, 62, 64, 31, "over", "31 over: ease off."},
        {bend, 62, 64, -48, "under", "48 under: about half a fret."},
        {note, 62, 62, 14, "near", "Good, 14 over."},
        {bend, 62, 64, -85, "other interval", "That was a half step, not a full step."},
        {bend, 62, 63, 95, "other interval", "That was a full step, not a half step."},
        {release, 64, 62, 96, "other interval", "That was a half step, not a full step."},
        {bend, 62, 63, -60, "under", "60 under: about two thirds of a fret."},
        {slide, 52, 64, -98, "wrong fret", "You landed 1 fret short."},
        {slide, 52, 64, 203, "wrong fret", "You landed 2 frets too far."},
        {bend, 62, 64, 3, "near", "You stopped 24 short, then corrected it.", -24, true},
        {bend, 62, 64, 2, "dead on", "Overshot by 35, then settled in tune.", 0, false, 35},
        {bend, 62, 64, -30, "under", "30 under: about a third of a fret.", 0, false, 35},
        {bend, 62, 64, 4, "dead on", "Landed in tune, then sank by 18.", 0, false, 0, 18},
        // Smaller ones are not worth the one sentence.
        {bend, 62, 64, 2, "dead on", "Overshot by 24, then settled in tune.", 0, false, 24},
        {bend, 62, 64, 2, "dead on", "Dead on, and it stayed.", 0, false, 17},
        {bend, 62, 64, 4, "dead on", "Landed in tune, then sank by 15.", 0, false, 0, 15},
        {bend, 62, 64, 4, "dead on", "Dead on, and it stayed.", 0, false, 0, 10},
        {slide, 60, 62, 4, "dead on", "You slid 1 fret too far, then came back.", 0, false, 97},
        {slide, 60, 62, 4, "dead on", "Right fret, but you left the first one 0.3 s late.", 0, false, 0, 0, 1.1},
        {slide, 60, 62, 4, "dead on", "Right fret, but you left the first one 0.2 s late.", 0, false, 0, 0, 0.99},
        {slide, 60, 62, 4, "dead on", "Dead on, and it stayed.", 0, false, 0, 0, 0.92},
    };
    for (const Row& row : rows) {
        Landing landing = landingOf(row);
        landing.verdict = verdictOf(landing, 100.0 * row.from);
        CHECK(verdictName(landing.verdict) == row.verdict);
        CHECK(sentenceOf(landing, 100.0 * row.from) == row.sentence);
    }
}

TEST_CASE("The aim asked of the student decides what is good, in sentence, first word and count") {
    const auto said = [](double firstStop, double error, double aim) {
        Landing landing = landingOf({Gesture::bend, 62, 64, error, "", ""});
        landing.firstStopError = Cents(firstStop);
        landing.verdict = verdictOf(landing, 6200.0);
        const VerdictConfig config{.aim = aim};
        const std::string sentence = sentenceOf(landing, 6200.0, config);
        const bool good = sentence.find("under:") == std::string::npos;
        CHECK(good == isInside(landing, Cents(aim)));
        CHECK(wordsOf(landing, config).headline == firstWord(landing, config));  // no sentence yet
        landing.sentence = sentence;
        return std::pair(wordsOf(landing, config), firstWord(landing, config));
    };
    CHECK(said(-13, -13, 25) == std::pair(Words{"13 under", "Good, 13 under."}, std::string("good")));
    CHECK(said(-13, -13, 12) == std::pair(Words{"13 under", "About an eighth of a fret."}, std::string("just under")));
    CHECK(said(-13, -13, 5) == std::pair(Words{"13 under", "About an eighth of a fret."}, std::string("under")));
    CHECK(said(-9, -9, 8).first.rest == "About a tenth of a fret.");
    CHECK(said(-4, -4, 3).first.rest == "About a tenth of a fret.");
    CHECK(said(-24, -24, 25).second == "just under");
    CHECK(said(-26, -26, 25).second == "just under");
    // Where first stop and hold lie on different sides of the aim, the first stop counts and is said.
    CHECK(said(-27, -23, 25).first.headline == "27 under");
    CHECK(said(-23, -27, 25).first.rest == "Good, 23 under.");
    CHECK(said(-13, -11, 25).first.headline == "11 under");
}

TEST_CASE("A good landing that sank says so in the big line") {
    Landing landing = landingOf({Gesture::bend, 62, 64, 13, "", "", 0.0, false, 0.0, 45.0});
    landing.verdict = verdictOf(landing, 6200.0);
    landing.sentence = sentenceOf(landing, 6200.0);
    CHECK(wordsOf(landing) == Words{"sank by 45", "Landed 13 over, then sank by 45."});
}

TEST_CASE("What cannot be marked says why") {
    Landing landing;
    landing.verdict = Verdict::died;
    CHECK(sentenceOf(landing, 6200) == "The note died before it got there.");
    landing.verdict = Verdict::twoStrings;
    CHECK(sentenceOf(landing, 6200) == "Two strings rang. Not counted.");
    landing.verdict = Verdict::notMeasurable;
    CHECK(sentenceOf(landing, 6200) == "The pitch was not clear. Not counted.");
}

TEST_CASE("A slide at a known place names the fret it stopped at") {
    Landing landing = landingOf({Gesture::slide, 60, 65, -100, "", ""});
    landing.move.place = NeckPlace{2, 12};
    landing.move.targetFret = 17;
    landing.landedFret = 16;
    landing.verdict = verdictOf(landing, 6000);
    CHECK(sentenceOf(landing, 6000) == "You landed on fret 16, not 17.");
}

TEST_CASE("A note that begins no try says what was picked and what was asked") {
    const auto said = [](Gesture gesture, double from, double to, double heard,
                         std::optional<NeckPlace> place = std::nullopt) {
        return notBegunSentence({gesture, MidiPitch(from), MidiPitch(to), place, std::nullopt}, heard);
    };
    using enum Gesture;
    // a fret beside, as a guitar's frets are: some cents off
    CHECK(said(bend, 67, 69, 6798, NeckPlace{2, 8}) == "That was fret 9. Play fret 8.");
    CHECK(said(bend, 67, 69, 5502) == "That was G3. Start on G4.");
    CHECK(said(bend, 67, 69, 6629, NeckPlace{2, 8}) == "That was 71 under G4. Is the string in tune?");
    CHECK(said(preBend, 67, 69, 6820, NeckPlace{2, 8}) == "You picked 80 under the bent note. Not counted.");
    CHECK(said(preBend, 67, 69, 6985, NeckPlace{2, 8}) == "You picked 85 over the bent note. Not counted.");
    CHECK(said(preBend, 67, 69, 6704, NeckPlace{2, 8}) == "You picked before the bend. Bend first, then pick.");
    CHECK(said(preBend, 67, 69, 7400, NeckPlace{2, 8}) == "That was D5. Start on G4.");
    CHECK(said(bend, 67, 69, 5900, NeckPlace{2, 8}) == "That was the open string. Play fret 8.");
    // G4 is its sixth partial
    CHECK(said(bend, 67, 69, 3600, NeckPlace{2, 8}) == "No clear pitch. Is another string ringing?");
    CHECK(said(bend, 67, 69, 4500, NeckPlace{2, 8}) == "That was A2. Play fret 8, G4.");
    CHECK(said(bend, 67, 69, 8200, NeckPlace{2, 8}) == "That was fret 23. Play fret 8.");
    CHECK(said(bend, 67, 69, 8400, NeckPlace{2, 8}) == "That was C6. Play fret 8, G4.");
    CHECK(said(release, 69, 67, 7100, NeckPlace{2, 8}) == "That was B4. Start on A4.");
}

TEST_CASE("A note that begins on the right fret and stays there is asked to move") {
    CHECK(notMovedSentence({Gesture::bend, MidiPitch(67), MidiPitch(69), NeckPlace{2, 8}, std::nullopt})
          == "You picked fret 8. Now bend it.");
    CHECK(notMovedSentence({Gesture::slide, MidiPitch(67), MidiPitch(69), std::nullopt, std::nullopt})
          == "You picked G4. Now slide.");
    CHECK(notClearSentence({Gesture::slide, MidiPitch(67), MidiPitch(69), std::nullopt, std::nullopt})
          == "The slide was not clear. Not counted.");
    CHECK(notMovedSentence({Gesture::release, MidiPitch(69), MidiPitch(67), NeckPlace{2, 8}, std::nullopt}).empty());
}

TEST_CASE("A pre-bend is picked unbent within 60 cents of its fret, and meant within 150 of the bent note") {
    const Move asked{Gesture::preBend, MidiPitch(62), MidiPitch(64), std::nullopt, std::nullopt};
    CHECK(notBegunSentence(asked, 6252.0) == "You picked before the bend. Bend first, then pick.");
    CHECK(notBegunSentence(asked, 6275.0) != "You picked before the bend. Bend first, then pick.");
    CHECK(notBegunSentence(asked, 6535.0) == "You picked 135 over the bent note. Not counted.");
    CHECK(notBegunSentence(asked, 6570.0).starts_with("That was"));
}

TEST_CASE("a good try of a drill about the hold is told by the hold: it stayed, it sank, it was let go early") {
    Landing landing;
    landing.move.gesture = Gesture::bend;
    landing.verdict = Verdict::inTune;
    landing.landingError = landing.firstStopError = Cents(7.0);
    landing.sag = Cents(2.0);
    landing.holdLength = Seconds(2.1);
    landing.sentence = "In tune, 7 over.";
    const VerdictConfig hold{.subject = Subject::hold};
    CHECK(wordsOf(landing, hold).headline == "stayed");
    CHECK(wordsOf(landing, hold).rest == "In tune, 7 over.");
    CHECK(wordsOf(landing).headline == "7 over");
    landing.holdLength = Seconds(0.8);
    CHECK(wordsOf(landing, hold).headline == "let go early");
    CHECK(completeSentence(landing, hold) == "Held for 0.8 s. Hold it for two full seconds.");
    CHECK(completeSentence(landing, {}) == "In tune, 7 over.");
    landing.sag = Cents(18.0);
    CHECK(wordsOf(landing, hold).headline == "sank by 18");
    landing.firstStopError = landing.landingError = Cents(40.0);
    landing.verdict = Verdict::over;
    CHECK(wordsOf(landing, hold).headline == "40 over");
}

TEST_CASE("a try of a drill about slowness tells the time from leaving the note to rest, and asks three seconds") {
    Landing landing;
    landing.move.gesture = Gesture::bend;
    landing.verdict = Verdict::deadOn;
    landing.landingError = landing.firstStopError = Cents(2.0);
    landing.riseTime = Seconds(3.4);
    landing.sentence = "Dead on, and it stayed.";
    const VerdictConfig slow{.subject = Subject::slow};
    CHECK(wordsOf(landing, slow) == Words{"took 3.4 s", "Dead on, and it stayed."});
    CHECK(completeSentence(landing, slow) == "Took 3.4 s. Dead on, and it stayed.");
    CHECK(completeSentence(landing, {}) == "Dead on, and it stayed.");
    landing.riseTime = Seconds(1.2);
    CHECK(wordsOf(landing, slow) == Words{"hurried", "There in 1.2 s. Take three full seconds, or more."});
    CHECK(completeSentence(landing, slow) == "There in 1.2 s. Take three full seconds, or more.");
    // What missed is told first, and then its time.
    landing.firstStopError = landing.landingError = Cents(-40.0);
    landing.verdict = Verdict::under;
    landing.sentence = sentenceOf(landing, 0.0);
    CHECK(wordsOf(landing, slow) == Words{"40 under", "About a third of a fret. Took 1.2 s."});
    CHECK(completeSentence(landing, slow) == "Took 1.2 s. " + landing.sentence);
    // A first word has no number, and what died took no time.
    landing.sentence.clear();
    CHECK(wordsOf(landing, slow) == Words{"under", ""});
    Landing died;
    died.verdict = Verdict::died;
    died.sentence = sentenceOf(died, 0.0);
    CHECK(completeSentence(died, slow) == died.sentence);
}
