#include <doctest/doctest.h>
#include <fmt/core.h>

#include <string>

#include "src/formats/phrase_file.h"
#include "src/music/chord_move.h"
#include "tests/support/command.h"

using namespace landfall;

namespace {

// One table of moves: "key = value" lines, those of a move joined by spaces.
// Not called move: std::move would be found for a temporary.
std::string asMove(const std::string& lines) { return "[[move]]\n" + lines + "\n"; }

const std::string head = "name = \"Mine\"\ntempo = 60\n";
const std::string note = asMove("bar = 1\nbeat = 1\ngesture = \"note\"\nstring = 2\nfret = 8");

Line lineFrom(const std::string& toml) {
    const auto phrase = parsePhrase(toml, "mine.toml");
    REQUIRE_MESSAGE(phrase, (phrase ? "" : phrase.error().message));
    return phrase->line;
}

std::string refused(const std::string& toml) {
    const auto phrase = parsePhrase(toml, "mine.toml");
    REQUIRE_FALSE_MESSAGE(phrase, toml);
    CHECK(phrase.error().message.find('\n') == std::string::npos);
    CHECK(phrase.error().message.size() < 300);
    return phrase.error().message;
}

}  // namespace

TEST_CASE("a phrase in TOML says of each move its stroke, beat, anchor, length, range, limit and what to listen for") {
    const auto phrase = findPhrase("let it fall");
    REQUIRE(phrase);
    const Line& line = phrase->line;
    REQUIRE(line.moves.size() == 11);
    CHECK(line.inTime);
    CHECK(line.tempo == 66.0);
    CHECK(line.length == 16.0);
    CHECK(line.barBegins == std::vector<double>{0.0, 4.0, 8.0, 12.0});
    CHECK_FALSE(line.listen.empty());
    const LineMove& bend = line.moves[0];
    CHECK(bend.move.from == MidiPitch(67));  // string 2, fret 8: G4
    CHECK(bend.move.to == MidiPitch(69));
    CHECK(bend.picked);
    CHECK(bend.vibrato);
    CHECK(bend.ends == 2.0);
    const LineMove& hint = line.moves[1];
    CHECK(hint.hint == HintRange{20.0, 60.0});
    CHECK(hint.move.to.value == doctest::Approx(64.4));
    CHECK(hint.beat == 2.0);
    CHECK(hint.ends == 3.0);  // until the next move
    const LineMove& slide = line.moves[3];
    CHECK(slide.move.targetFret == 7);
    CHECK(slide.anchor == Anchor::landing);
    CHECK(slide.lingers == Seconds(0.2));
    const LineMove& fall = line.moves[5];
    CHECK(fall.move.gesture == Gesture::fall);
    CHECK_FALSE(fall.picked);
    CHECK(fall.bar == 2);
    CHECK(fall.count == 4.0);
    CHECK(fall.listen == "Let it die on the way.");
    CHECK(line.moves[7].anchor == Anchor::landing);  // a release
    CHECK(line.moves[10].ends == 16.0);
}

TEST_CASE("without beats a line is in free time: its moves have numbers, and the order is all that counts") {
    const Line line = lineFrom("name = \"Mine\"\n" + asMove("gesture = \"bend\"\nstring = 2\nfret = 8\nto = 2")
                               + asMove("gesture = \"release\"\nstring = 2\nfret = 8\nfrom = 2\ngoes_on = true"));
    CHECK_FALSE(line.inTime);
    CHECK_FALSE(line.tempo);
    CHECK(line.moves[1].bar == LineMove::noBar);
    CHECK(line.moves[1].count == 2.0);
    CHECK(line.moves[1].move.from == MidiPitch(69));
}

TEST_CASE("strings that are struck together are one move of a phrase in TOML") {
    const auto phrase = findPhrase("both windows");
    REQUIRE(phrase);
    const auto& moves = phrase->line.moves;
    REQUIRE(moves.size() == 8);
    CHECK(notesOf(moves[0].move) == "B3+G4");
    CHECK(notesOf(moves[3].move) == "D4+B4 – C4+A4");
    CHECK_FALSE(moves[3].picked);
    CHECK(moves[3].move.with[0].targetFret == 10);
    CHECK(isUnison(moves[4].move));
    CHECK(moves[5].move.with.empty());
    CHECK(notesOf(moves[6].move) == "D4+A4 – E4+A4");
    CHECK(moves[6].move.with[0].gesture == Gesture::note);
    CHECK(goesOn(moves[6].move, moves[7].move));

    const auto refusedWith = [](const std::string& with, const std::string& lines = "gesture = \"bend\"\nto = 2") {
        return refused(head + asMove("bar = 1\nbeat = 1\nstring = 3\nfret = 7\n" + lines + "\nwith = " + with));
    };
    const auto says = [](const std::string& said, const std::string& part) {
        CHECK_MESSAGE(said.find(part) != std::string::npos, said);
    };
    says(refusedWith("[{ string = 3, fret = 5 }]"), "bar 1, beat 1: two notes on string 3 at once");
    says(refusedWith("[{ string = 2, fret = 13 }]"), "a hand does not reach over 6 frets");
    says(refusedWith("[{ string = 2 }]"), "'fret' is missing in 'with'");
    says(refusedWith("[{ string = 2, fret = 24 }]"), "fret 24 is not on a neck of 22 frets");
    says(refusedWith("[{ string = 2, fret = 8, to = -1 }]"), "no string may come down");
    says(refusedWith("[{ string = 2, fret = 0, to = 1 }]"), "a bend of an open string");
    says(refusedWith("[{ string = 2, fret = 8 }]", "gesture = \"vibrato\""), "several strings at once are");
    std::string six;
    for (int string = 1; string <= 6; ++string) six += fmt::format("{{ string = {}, fret = 7 }},", string);
    says(refusedWith(fmt::format("[{}]", six)), "two to 6 strings sound together, not 7");
    const std::string pair =
        asMove("bar = 1\nbeat = 1\nstring = 3\nfret = 7\ngesture = \"note\"\nwith = [{ string = 2, fret = 8 }]");
    CHECK(lineFrom("target = \"just\"\n" + head + pair).target == Target::just);
    CHECK(lineFrom("target = \"concert\"\n" + head + pair).target == Target::concert);
    says(refused("target = \"just\"\n" + head + note),
         "mine.toml:1:10: 'target' \"just\" holds one string against another");
    says(refused("target = \"own guitar\"\n" + head + pair),
         "mine.toml:1:10: 'target' must be \"concert\", or \"just\"");
    says(refused(head + note
                 + asMove("bar = 1\nbeat = 2\nstring = 2\nfret = 8\ngesture = \"bend\"\nto = 2\ngoes_on = true\n"
                          "with = [{ string = 1, fret = 8 }]")),
         "goes_on with more or fewer strings than the move before sounds; leave 'goes_on' out: it needs its stroke");
    says(refused(head + pair
                 + asMove("bar = 1\nbeat = 2\nstring = 3\nfret = 7\ngesture = \"slide\"\nto = 2\ngoes_on = true")),
         "bar 1, beat 2: goes_on with more or fewer strings");
    says(refused(head + pair
                 + asMove("bar = 1\nbeat = 2\nstring = 3\nfret = 9\ngesture = \"slide\"\nto = 2\ngoes_on = true\n"
                          "with = [{ string = 2, fret = 8, to = 2 }]")),
         "bar 1, beat 2: goes_on from other strings or pitches");
}

TEST_CASE("tuning and capo of a phrase in TOML move its pitches") {
    const Line line = lineFrom("tuning = \"D2 A2 D3 G3 B3 D4\"\ncapo = 2\n" + head
                               + asMove("bar = 1\nbeat = 1\ngesture = \"note\"\nstring = 1\nfret = 3"));
    CHECK(line.moves[0].move.from == MidiPitch(67));  // D4, two frets for the capo, three for the finger
    CHECK(line.capo == 2);
}

TEST_CASE(
    "what is wrong with a phrase in TOML is said with file, line, what was expected and, in the music, the place") {
    const auto second = [](const std::string& lines) { return head + note + asMove(lines); };
    const std::string at = "bar = 1\nbeat = 2\nstring = 2\n";
    const std::vector<std::pair<std::string, std::string>> bad{
        {"name = ", "mine.toml:1:8: not TOML"},
        {"tempo = 60\n" + note, "mine.toml:1:1: 'name' is missing: expected name = \"...\""},
        {head + "speed = 2\n" + note, "mine.toml:3:1: 'speed' is not known here: expected name, listen, tempo"},
        {head, "'move' is missing: expected at least one [[move]] table"},
        {"name = \"Mine\"\ntempo = 5\n" + note, "mine.toml:2:9: 'tempo' must be a number from 10 to 400, not 5"},
        {"tuning = \"H A\"\n" + head + note, "mine.toml:1:10: "},
        {head + asMove("bar = 1\nbeat = 1\ngesture = \"jump\"\nstring = 2\nfret = 8"),
         "mine.toml:6:11: 'jump' is not a gesture: use bend, release, pre-bend, slide, note, vibrato, hint, slip, "
         "hammer-on, pull-off or fall"},
        {head + asMove("bar = 1\nbeat = 1\ngesture = \"note\"\nfret = 8"),
         "mine.toml:3:1: 'string' is missing: expected string = 1 (the highest) to 9"},
        {second("gesture = \"note\"\nstring = 2\nfret = 8"),
         "'bar' and 'beat' are missing: the moves before have them"},
        {second(at + "gesture = \"note\"\nfret = 30"), "bar 1, beat 2: fret 30 is not on a neck of 22 frets"},
        {second("bar = 1\nbeat = 1\nstring = 3\ngesture = \"note\"\nfret = 8"),
         "bar 1, beat 1: it comes with the move before"},
        {second("bar = 1\nbeat = 5\nstring = 3\ngesture = \"note\"\nfret = 8"),
         "'beat' must be a number from 1 to 5, not 5"},
        {second(at + "gesture = \"bend\"\nfret = 8\nto = 5.5"), "a bend goes up"},
        {second(at + "gesture = \"bend\"\nfret = 8\nto = 0.4"),
         "bar 1, beat 2: a bend of less than half a half step is too small"},
        {second(at + "gesture = \"bend\"\nfret = 0\nto = 1"), "bar 1, beat 2: a bend of an open string"},
        {second(at + "gesture = \"slide\"\nfret = 8\nto = 1.5"), "a slide goes over whole frets"},
        {second(at + "gesture = \"slide\"\nfret = 8\nto = -8"), "bar 1, beat 2: a slide from or to an open string"},
        {second(at + "gesture = \"slide\"\nfret = 20\nto = 5"), "bar 1, beat 2: fret 25 is not on a neck"},
        {second(at + "gesture = \"fall\"\nfret = 2"), "bar 1, beat 2: a fall from below fret 3"},
        {second(at + "gesture = \"fall\"\nfret = 8\nto = -5"), "a fall has no end"},
        {second(at + "gesture = \"hint\"\nfret = 8\nhint = [60, 20]"), "'hint' must be a range of at least 5 cents"},
        {second(at + "gesture = \"hint\"\nfret = 8\nhint = [20, 160]"),
         "'hint' must be a number from 10 to 95, not 160"},
        {second(at + "gesture = \"hint\"\nfret = 8\nhint = 40"),
         "'hint' must be how far it goes, at least and at most"},
        {second(at + "gesture = \"note\"\nfret = 8\nhint = [20, 60]"), "'hint' is the range of a hint"},
        {second(at + "gesture = \"note\"\nfret = 8\nlinger_s = 0.2"), "'linger_s' is how long a slide"},
        {second(at + "gesture = \"release\"\nfret = 8\nfrom = 2\ngoes_on = true"),
         "bar 1, beat 2: goes_on from another pitch: the move before ends on G4, this one starts on A4"},
        {second("bar = 1\nbeat = 2\nstring = 3\ngesture = \"pull-off\"\nfret = 12\nto = -3\ngoes_on = true"),
         "bar 1, beat 2: goes_on from string 2 to string 3"},
        {second(at + "gesture = \"pre-bend\"\nfret = 8\nto = 2\ngoes_on = true"),
         "bar 1, beat 2: a pre-bend has a stroke of its own"},
        {head + asMove("bar = 1\nbeat = 1\ngesture = \"note\"\nstring = 2\nfret = 8\nlength = 2")
             + asMove(at + "gesture = \"note\"\nfret = 8"),
         "bar 1, beat 1: its 'length' reaches into the next move"},
        {second(at + "gesture = \"note\"\nfret = 8\non_the_beat = \"end\""), "must be \"stroke\" or \"arrival\""},
        // 19 frets in a sixtieth of a second.
        {head + asMove("bar = 1\nbeat = 1\ngesture = \"note\"\nstring = 2\nfret = 1")
             + asMove("bar = 1\nbeat = 1.0166\ngesture = \"note\"\nstring = 2\nfret = 20"),
         "from fret 1 to fret 20 in 17 ms; no hand gets there"},
    };
    for (const auto& [toml, said] : bad) {
        const std::string error = refused(toml);
        CHECK_MESSAGE(error.starts_with("mine.toml:"), error);
        CHECK_MESSAGE(error.find(said) != std::string::npos, (error + " / " + said));
    }
}

TEST_CASE("a phrase in TOML is bounded: too many moves, too deep and too large are refused") {
    std::string many = head;
    for (int i = 0; i < 2001; ++i)
        many += asMove("bar = " + std::to_string(1 + i / 4) + "\nbeat = " + std::to_string(1 + i % 4)
                       + "\ngesture = \"note\"\nstring = 2\nfret = 8");
    CHECK(refused(many).find("more than 2000 moves") != std::string::npos);
    CHECK(refused(head + "listen = " + std::string(40, '[')).find("nested more than 16 deep") != std::string::npos);
    const TestFolder folder;
    writeText(folder / "large.toml", std::string(2u << 20, '#'));
    CHECK(readPhrase(folder / "large.toml").error().message.find("bytes are more than a phrase file has")
          != std::string::npos);
}

TEST_CASE("a folder of one's own phrases may hold scores and TOML") {
    const TestFolder folder;
    writeText(folder / "mine.toml", head + note);
    writeText(folder / "worse.toml", "name = 3\n" + note);
    writeText(folder / "stairs.musicxml", std::string(builtInPhraseText("Two stairs down")));
    const OwnPhrases own = ownPhrases(folder.path);
    REQUIRE(own.phrases.size() == 2);
    REQUIRE(own.problems.size() == 1);
    CHECK(own.problems[0].find("worse.toml:1:8: 'name' must be one line of text") != std::string::npos);
}
