#include <doctest/doctest.h>

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
        {bend, 62, 64, -22, "near", "22 under: about a fifth of a fret."},
        {bend, 62, 64, 25, "near", "25 over: ease off."},
        {bend, 62, 64, 31, "over", "31 over: ease off."},
        {bend, 62, 64, -48, "under", "48 under: about half a fret."},
        {note, 62, 62, 14, "near", "14 over: about a seventh of a fret."},
        {bend, 62, 64, -85, "other interval", "Half step played; full step asked."},
        {bend, 62, 63, 95, "other interval", "Full step played; half step asked."},
        {release, 64, 62, 96, "other interval", "Half step played; full step asked."},
        {bend, 62, 63, -60, "under", "60 under: about two thirds of a fret."},
        {slide, 52, 64, -98, "wrong fret", "Stopped 1 fret short."},
        {slide, 52, 64, 203, "wrong fret", "Stopped 2 frets too far."},
        {bend, 62, 64, 3, "near", "First stop 24 under; you pulled it in.", -24, true},
        {bend, 62, 64, 2, "dead on", "Shot 35 past, settled in tune.", 0, false, 35},
        {bend, 62, 64, -30, "under", "30 under: about a third of a fret.", 0, false, 35},
        {bend, 62, 64, 4, "dead on", "Landed in tune, sank 18.", 0, false, 0, 18},
        // Smaller ones are not worth the one sentence.
        {bend, 62, 64, 2, "dead on", "Shot 24 past, settled in tune.", 0, false, 24},
        {bend, 62, 64, 2, "dead on", "Dead on, and it stayed.", 0, false, 17},
        {bend, 62, 64, 4, "dead on", "Landed in tune, sank 15.", 0, false, 0, 15},
        {bend, 62, 64, 4, "dead on", "Dead on, and it stayed.", 0, false, 0, 10},
        {slide, 60, 62, 4, "dead on", "Shot 1 fret past, then right.", 0, false, 97},
        {slide, 60, 62, 4, "dead on", "Right fret; 0.3 s too long on the first.", 0, false, 0, 0, 1.1},
        {slide, 60, 62, 4, "dead on", "Right fret; 0.2 s too long on the first.", 0, false, 0, 0, 0.99},
        {slide, 60, 62, 4, "dead on", "Dead on, and it stayed.", 0, false, 0, 0, 0.92},
    };
    for (const Row& row : rows) {
        Landing landing = landingOf(row);
        landing.verdict = verdictOf(landing, 100.0 * row.from);
        CHECK(verdictName(landing.verdict) == row.verdict);
        CHECK(sentenceOf(landing, 100.0 * row.from) == row.sentence);
    }
}

TEST_CASE("What cannot be marked says why") {
    Landing landing;
    landing.verdict = Verdict::died;
    CHECK(sentenceOf(landing, 6200) == "Died before arriving.");
    landing.verdict = Verdict::twoStrings;
    CHECK(sentenceOf(landing, 6200) == "Two strings rang: not counted.");
    landing.verdict = Verdict::notMeasurable;
    CHECK(sentenceOf(landing, 6200) == "Not measurable: the pitch was not clear.");
}

TEST_CASE("A slide at a known place names the fret it stopped at") {
    Landing landing = landingOf({Gesture::slide, 60, 65, -100, "", ""});
    landing.move.place = NeckPlace{2, 12};
    landing.move.targetFret = 17;
    landing.landedFret = 16;
    landing.verdict = verdictOf(landing, 6000);
    CHECK(sentenceOf(landing, 6000) == "Stopped at 16; fret 17 asked.");
}

TEST_CASE("A note that begins no try says what was picked and what was asked") {
    const auto said = [](Gesture gesture, double from, double to, double heard,
                         std::optional<NeckPlace> place = std::nullopt) {
        return notBegunSentence({gesture, MidiPitch(from), MidiPitch(to), place, std::nullopt}, heard);
    };
    using enum Gesture;
    // a fret beside, as a guitar's frets are: some cents off
    CHECK(said(bend, 67, 69, 6798, NeckPlace{2, 8}) == "Heard G♯4; fret 8 is G4.");
    CHECK(said(bend, 67, 69, 5502) == "Heard G3; it begins on G4.");
    CHECK(said(bend, 67, 69, 6629, NeckPlace{2, 8}) == "Heard 71 under G4: is the string in tune?");
    CHECK(said(preBend, 67, 69, 6820, NeckPlace{2, 8}) == "Picked 80 under the bent note: not counted.");
    CHECK(said(preBend, 67, 69, 6985, NeckPlace{2, 8}) == "Picked 85 over the bent note: not counted.");
    CHECK(said(preBend, 67, 69, 6704, NeckPlace{2, 8}) == "Picked unbent: bend first, then pick.");
    CHECK(said(preBend, 67, 69, 7400, NeckPlace{2, 8}) == "Heard D5; it begins on G4.");
    // G4 is its sixth partial
    CHECK(said(bend, 67, 69, 3600, NeckPlace{2, 8}) == "Heard C2 under G4: do two strings ring?");
    CHECK(said(bend, 67, 69, 4500, NeckPlace{2, 8}) == "Heard A2; fret 8 is G4.");
    CHECK(said(release, 69, 67, 7100, NeckPlace{2, 8}) == "Heard B4; it begins on A4.");
}

TEST_CASE("A pre-bend is picked unbent within 60 cents of its fret, and meant within 150 of the bent note") {
    const Move asked{Gesture::preBend, MidiPitch(62), MidiPitch(64), std::nullopt, std::nullopt};
    CHECK(notBegunSentence(asked, 6252.0) == "Picked unbent: bend first, then pick.");
    CHECK(notBegunSentence(asked, 6275.0) != "Picked unbent: bend first, then pick.");
    CHECK(notBegunSentence(asked, 6535.0) == "Picked 135 over the bent note: not counted.");
    CHECK(notBegunSentence(asked, 6570.0).starts_with("Heard"));
}
