#include <doctest/doctest.h>

#include <cmath>
#include <filesystem>
#include <fstream>
#include <random>
#include <set>
#include <string>
#include <vector>

#include <fmt/core.h>
#include <fmt/ranges.h>
#include <sys/stat.h>

#include "src/formats/built_in_files.h"
#include "src/formats/phrase_file.h"
#include "src/music/chord_move.h"
#include "tests/support/command.h"

using namespace landfall;

namespace {

const std::string head =
    "<attributes><divisions>12</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>"
    "<direction><direction-type><words/></direction-type><sound tempo=\"90\"/></direction>";

// A note on the G string, whose open note is G3.
struct N {
    int fret = 7;
    int duration = 12;
    std::string notations{};  // outside <technical>
    std::string technical{};  // inside, after string and fret
    std::string before{};     // <grace/>, <cue/>, <chord/>
    std::string tie{};
};

std::string pitchXml(int midi) {
    const char* const steps[] = {"C", "C", "D", "D", "E", "F", "F", "G", "G", "A", "A", "B"};
    const bool sharp = std::string("\1\3\6\10\12").find(static_cast<char>(midi % 12)) != std::string::npos && midi % 12;
    return fmt::format("<pitch><step>{}</step>{}<octave>{}</octave></pitch>", steps[midi % 12],
                       sharp ? "<alter>1</alter>" : "", midi / 12 - 1);
}

std::string note(const N& n) {
    const std::string duration = n.before == "<grace/>" ? "" : fmt::format("<duration>{}</duration>", n.duration);
    return fmt::format(
        "<note>{}{}{}{}<voice>1</voice><notations>{}<technical><string>3</string><fret>{}</fret>{}"
        "</technical></notations></note>",
        n.before, pitchXml(55 + n.fret), duration, n.tie, n.notations, n.fret, n.technical);
}

std::string rest(int duration = 12) {
    return fmt::format("<note><rest/><duration>{}</duration><voice>1</voice></note>", duration);
}

std::string bend(const std::string& alter, const std::string& more = "", const std::string& attributes = "") {
    return "<bend" + attributes + "><bend-alter>" + alter + "</bend-alter>" + more + "</bend>";
}

std::string score(const std::vector<std::string>& bars, const std::string& first = head) {
    std::string xml =
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?><score-partwise version=\"4.0\"><part-list/>"
        "<part id=\"P1\">";
    for (std::size_t i = 0; i < bars.size(); ++i)
        xml += fmt::format("<measure number=\"{}\">{}{}</measure>", i + 1, i == 0 ? first : "", bars[i]);
    return xml + "</part></score-partwise>";
}

PhraseFile phraseOf(const std::string& xml) {
    const auto phrase = parsePhrase(xml, "tune.musicxml");
    REQUIRE_MESSAGE(phrase, (phrase ? "" : phrase.error().message));
    return *phrase;
}

std::vector<LineMove> movesOf(const std::string& bar) { return phraseOf(score({bar})).line.moves; }

std::string errorOf(const std::string& xml) {
    const auto phrase = parsePhrase(xml, "tune.musicxml");
    REQUIRE_FALSE_MESSAGE(phrase, xml);
    const std::string said = phrase.error().message;
    CHECK_MESSAGE(said.starts_with("tune.musicxml:"), said);
    CHECK_MESSAGE(said.find('\n') == std::string::npos, said);
    CHECK_MESSAGE(said.size() < 300, said);
    return said;
}

bool says(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

// "bend 62>64 @0 picked", with what else there is to say.
std::string told(const LineMove& m) {
    return fmt::format("{} {:g}>{:g} @{:g} {}{}{}", gestureName(m.move.gesture), m.move.from.value, m.move.to.value,
                       m.beat, m.picked ? "picked" : "goes on", m.anchor == Anchor::landing ? ", landing" : "",
                       m.vibrato ? ", shaken" : "");
}

std::vector<std::string> told(const std::string& bar) {
    std::vector<std::string> all;
    for (const LineMove& m : movesOf(bar)) all.push_back(told(m));
    return all;
}

using Told = std::vector<std::string>;

// Another note of the chord that the note before began, on the B string.
std::string second(int fret, const std::string& technical = "", const std::string& notations = "", int duration = 12) {
    return fmt::format(
        "<note><chord/>{}<duration>{}</duration><voice>1</voice><notations>{}<technical><string>2</string>"
        "<fret>{}</fret>{}</technical></notations></note>",
        pitchXml(59 + fret), duration, notations, fret, technical);
}

const std::string slideStart = "<slide type=\"start\"/>", slideStop = "<slide type=\"stop\"/>";
const std::string wave = "<ornaments><wavy-line type=\"start\"/><wavy-line type=\"stop\"/></ornaments>";

// Notation of any kind, and what it asks.
struct MadeUp {
    std::mt19937 random{14};
    double beat = 0.0;
    Told made{};

    int below(int limit) { return static_cast<int>(random() % static_cast<unsigned>(limit)); }

    void tell(const char* name, double from, double to, double at, const char* how) {
        made.push_back(fmt::format("{} {:g}>{:g} @{:g} {}", name, from, to, at, how));
    }

    std::string anything() {
        const int kind = below(9), fret = 2 + below(14), duration = 1 + below(30);
        const std::string xml = kind == 0  ? rest(duration)
                                : kind < 3 ? plain(fret, duration, kind == 2)
                                : kind < 6 ? bent(fret, duration, kind)
                                : kind < 8 ? legato(fret, duration, kind == 7)
                                           : approached(fret, duration);
        beat += duration / 12.0;
        return xml;
    }

    std::string plain(int fret, int duration, bool shaken) {
        const double pitch = 55 + fret;
        tell(shaken ? "vibrato" : "note", pitch, pitch, beat, shaken ? "picked, shaken" : "picked");
        return note({.fret = fret, .duration = duration, .notations = shaken ? wave : ""});
    }

    std::string bent(int fret, int duration, int kind) {
        const double pitch = 55 + fret, size = kind == 5 ? 0.3 : 1.0 + 0.5 * below(8);
        const int arrives = 10 * below(11);
        const std::string up = fmt::format("{:g}", size), down = fmt::format("-{:g}", size);
        const std::string release = bend(down, "<release/>", fmt::format(" last-beat=\"{}\"", arrives));
        tell(kind == 3 ? "bend" : kind == 4 ? "pre-bend" : "hint", pitch, pitch + size, beat, "picked");
        if (kind != 5)
            tell("release", pitch + size, pitch, beat + duration / 12.0 * arrives / 100.0, "goes on, landing");
        return note({.fret = fret,
                     .duration = duration,
                     .technical = (kind == 4 ? bend(down, "<pre-bend/>") : bend(up)) + release});
    }

    std::string legato(int fret, int duration, bool hammered) {
        const double pitch = 55 + fret;
        const int up = 1 + below(4);
        const std::string start = "<hammer-on type=\"start\"/>", stop = "<hammer-on type=\"stop\"/>";
        tell("note", pitch, pitch, beat, "picked");
        tell(hammered ? "hammer-on" : "slide", pitch, pitch + up, beat + 1.0,
             hammered ? "goes on" : "goes on, landing");
        beat += 1.0;
        return note({.fret = fret, .notations = hammered ? "" : slideStart, .technical = hammered ? start : ""})
               + note({.fret = fret + up,
                       .duration = duration,
                       .notations = hammered ? "" : slideStop,
                       .technical = hammered ? stop : ""});
    }

    std::string approached(int fret, int duration) {
        tell("slide", 54 + fret, 55 + fret, beat, "picked, landing");
        return note({.fret = fret - 1, .notations = slideStart, .before = "<grace/>"})
               + note({.fret = fret, .duration = duration, .notations = slideStop});
    }
};

}  // namespace

TEST_CASE("a note, a rest and a triplet: beats in quarters, bars as they are printed") {
    const Line line = phraseOf(score({note({}) + rest() + note({.fret = 9, .duration = 4}) + note({.duration = 4})
                                          + note({.duration = 4}) + note({.fret = 5}),
                                      note({.fret = 4, .duration = 48})}))
                          .line;
    REQUIRE(line.moves.size() == 6);
    CHECK(told(line.moves[0]) == "note 62>62 @0 picked");
    CHECK(line.moves[1].beat == doctest::Approx(2.0));
    CHECK(line.moves[2].beat == doctest::Approx(2.0 + 1.0 / 3.0));
    CHECK(line.moves[5].beat == doctest::Approx(4.0));
    CHECK(line.moves[5].bar == 2);
    CHECK(line.moves[0].ends == doctest::Approx(1.0));
    CHECK(line.moves[0].move.place->string == 3);
    CHECK(line.moves[0].move.place->fret == 7);
    CHECK(line.length == doctest::Approx(8.0));
    CHECK(line.barBegins.size() == 2);
    CHECK(line.barBegins[1] == doctest::Approx(4.0));
    CHECK(*line.tempo == 90.0);
    CHECK(line.title == "tune");
}

// The standard's own words for bend-alter: "the number of semitones in the bend"; "a release after a bend has a
// negative bend-alter value, not a zero value"; "negative values indicate pre-bends or releases" (musicxml.xsd, 4.0).
TEST_CASE("bends, releases, pre-bends and hints land where bend-alter says, from the fretted note") {
    CHECK(told(note({.technical = bend("2")})) == Told{"bend 62>64 @0 picked"});
    CHECK(told(note({.technical = bend("0.5")})) == Told{"bend 62>62.5 @0 picked"});
    CHECK(told(note({.technical = bend("2") + bend("-2", "<release/>", " last-beat=\"50\"")}))
          == Told{"bend 62>64 @0 picked", "release 64>62 @0.5 goes on, landing"});
    CHECK(told(note({.technical = bend("2") + bend("-1", "<release/>")}))
          == Told{"bend 62>64 @0 picked", "release 64>63 @0.75 goes on, landing"});
    for (const char* alter : {"2", "-2"})
        CHECK(told(note({.technical = bend(alter, "<pre-bend/>") + bend("-2", "<release/>")}))
              == Told{"pre-bend 62>64 @0 picked", "release 64>62 @0.75 goes on, landing"});
    CHECK(told(note({.technical = bend("0.4") + bend("-0.4", "<release/>")})) == Told{"hint 62>62.4 @0 picked"});
    CHECK(told(note({.technical = bend("1"), .tie = "<tie type=\"start\"/>"})
               + note({.technical = bend("-1", "<release/>"), .tie = "<tie type=\"stop\"/>"}))
          == Told{"bend 62>63 @0 picked", "release 63>62 @1.75 goes on, landing"});
}

TEST_CASE("a release says where it may begin, a hint how far it may go, a fall-off is a fall to no note") {
    const auto released = movesOf(
        note({.duration = 24, .technical = bend("2") + bend("-2", "<release offset=\"8\"/>", " last-beat=\"50\"")}));
    REQUIRE(released.size() == 2);
    CHECK(released[1].leaves == doctest::Approx(8.0 / 12.0));  // 'offset' counts divisions from the note's beginning
    CHECK(released[1].beat == doctest::Approx(1.0));
    CHECK_FALSE(movesOf(note({.technical = bend("2") + bend("-2", "<release/>")}))[1].leaves);
    const auto outside = phraseOf(score({note({.technical = bend("2") + bend("-2", "<release offset=\"99\"/>")})}));
    CHECK_FALSE(outside.line.moves[1].leaves);
    CHECK(outside.notUnderstood == std::vector<std::string>{"release that begins outside its note: bar 1"});

    // A bend of 0.4 half steps stands for 20 to 60 cents.
    const auto hint = movesOf(note({.technical = bend("0.4") + bend("-0.4", "<release/>")}))[0].hint;
    CHECK(hint.least == doctest::Approx(20.0));
    CHECK(hint.most == doctest::Approx(60.0));

    const std::string fallOff = "<articulations><falloff/></articulations>";
    const auto fallen = movesOf(note({.duration = 24, .notations = fallOff}) + note({.fret = 5}));
    REQUIRE(fallen.size() == 3);
    CHECK(told(fallen[1]) == "fall 62>56 @1 goes on");
    CHECK(says(errorOf(score({note({.fret = 1, .notations = fallOff})})), "bar 1, beat 1: a fall from below fret 3"));
}

TEST_CASE("slides, approaches and slips are told by grace notes and by what comes before") {
    CHECK(told(note({.notations = slideStart}) + note({.fret = 9, .notations = slideStop}))
          == Told{"note 62>62 @0 picked", "slide 62>64 @1 goes on, landing"});
    const auto approach =
        movesOf(note({.fret = 6, .notations = slideStart, .before = "<grace/>"}) + note({.notations = slideStop}));
    REQUIRE(approach.size() == 1);
    CHECK(told(approach[0]) == "slide 61>62 @0 picked, landing");
    CHECK(approach[0].move.place->fret == 6);
    CHECK(*approach[0].move.targetFret == 7);
    CHECK(told(note({.notations = slideStart, .technical = bend("2")})
               + note({.fret = 8, .notations = slideStop + slideStart, .before = "<grace/>"})
               + note({.notations = slideStop}))
          == Told{"bend 62>64 @0 picked", "slip 62>62 @1 goes on, landing"});
    CHECK(told(note({.notations = slideStart, .technical = bend("1")})
               + note({.fret = 5, .notations = slideStop, .technical = bend("2")}))
          == Told{"bend 62>63 @0 picked", "bend 60>62 @1 goes on"});
}

TEST_CASE("hammer-on, pull-off and vibrato; a wavy line on a bent note is no move of its own") {
    const auto joint = [](const char* name, const char* type) { return fmt::format("<{} type=\"{}\"/>", name, type); };
    const auto moves = movesOf(note({.technical = joint("hammer-on", "start")})
                               + note({.fret = 9, .technical = joint("hammer-on", "stop") + joint("pull-off", "start")})
                               + note({.technical = joint("pull-off", "stop")}) + note({.notations = wave}));
    REQUIRE(moves.size() == 4);
    CHECK(told(moves[1]) == "hammer-on 62>64 @1 goes on");
    CHECK(moves[1].move.place->fret == 7);
    CHECK(*moves[1].move.targetFret == 9);
    CHECK(told(moves[2]) == "pull-off 64>62 @2 goes on");
    CHECK(told(moves[3]) == "vibrato 62>62 @3 picked, shaken");
    CHECK(told(note({.notations = wave, .technical = bend("2")})) == Told{"bend 62>64 @0 picked, shaken"});
    CHECK(told(note({.tie = "<tie type=\"start\"/>"}) + note({.notations = wave, .tie = "<tie type=\"stop\"/>"}))
          == Told{"note 62>62 @0 picked, shaken"});
}

// The moves are known from how each phrase is made up; only the notation is read back.
TEST_CASE("made-up phrases of all gestures, in any order and length, are read as they were made") {
    MadeUp phrase;
    for (int i = 0; i < 200; ++i) {
        phrase.beat = 0.0;
        phrase.made.clear();
        std::vector<std::string> bars(1U + static_cast<unsigned>(phrase.below(6)));
        for (std::string& bar : bars)
            for (int notes = phrase.below(8); notes >= 0; --notes) bar += phrase.anything();
        if (phrase.made.empty()) continue;
        Told read;
        const Line line = phraseOf(score(bars, "<attributes><divisions>12</divisions></attributes>")).line;
        for (const LineMove& move : line.moves) read.push_back(told(move));
        REQUIRE(read == phrase.made);
    }
}

TEST_CASE("a wavy line over several notes shakes all but the one at whose head it ends") {
    const std::string begins = "<ornaments><wavy-line type=\"start\"/></ornaments>";
    const std::string ends = "<ornaments><wavy-line type=\"stop\"/></ornaments>";
    CHECK(told(note({.notations = begins}) + note({.fret = 9}) + note({.notations = ends}) + note({}))
          == Told{"vibrato 62>62 @0 picked, shaken", "vibrato 64>64 @1 picked, shaken", "note 62>62 @2 picked",
                  "note 62>62 @3 picked"});
}

TEST_CASE("a tie goes on over the bar line and lengthens the note") {
    const std::string tied = "<note>" + pitchXml(62) + "<duration>12</duration><tie type=\"stop\"/></note>";
    const auto moves = movesOf(note({.tie = "<tie type=\"start\"/>"}) + tied + note({.notations = slideStart})
                               + note({.fret = 9, .notations = slideStop}));
    REQUIRE(moves.size() == 3);  // the tied note has no string and fret of its own
    CHECK(moves[0].ends == doctest::Approx(2.0));
    CHECK(moves[2].move.place->fret == 7);
    CHECK(told(note({.technical = bend("1"), .tie = "<tie type=\"start\"/>"}) + tied
               + note({.technical = bend("-1", "<release/>"), .tie = "<tie type=\"stop\"/>"}))
          == Told{"bend 62>63 @0 picked", "release 63>62 @2.75 goes on, landing"});
    const Line line = phraseOf(score({rest(36) + note({.tie = "<tie type=\"start\"/>"}),
                                      note({.duration = 24, .tie = "<tie type=\"stop\"/>"})}))
                          .line;
    REQUIRE(line.moves.size() == 1);
    CHECK(line.moves[0].ends == doctest::Approx(6.0));
}

TEST_CASE("repeats and endings are played out, with the bars as they are printed") {
    const auto played = [](const std::vector<std::string>& lines) {
        std::vector<std::string> bars;
        for (const std::string& barline : lines) bars.push_back(barline + note({}));
        std::string order;
        const Line line = phraseOf(score(bars)).line;
        for (const LineMove& move : line.moves) order += std::to_string(move.bar);
        CHECK(line.barBegins.size() == line.moves.size());
        return order;
    };
    const std::string forward = "<barline location=\"left\"><repeat direction=\"forward\"/></barline>";
    const auto back = [](const std::string& times = "") {
        return "<barline location=\"right\"><repeat direction=\"backward\"" + times + "/></barline>";
    };
    const auto ending = [](const std::string& numbers) {
        return "<barline location=\"left\"><ending number=\"" + numbers + "\" type=\"start\"/></barline>";
    };
    const auto closed = [](const std::string& numbers, const std::string& repeat = "") {
        return "<barline location=\"right\"><ending number=\"" + numbers + "\" type=\"stop\"/>" + repeat + "</barline>";
    };
    const std::string again = "<repeat direction=\"backward\"/>";
    CHECK(played({"", "", ""}) == "123");
    CHECK(played({"", back(), ""}) == "12123");
    CHECK(played({"", forward, back(), ""}) == "123234");
    CHECK(played({forward + back(" times=\"3\""), ""}) == "1112");
    CHECK(played({forward + back(), forward + back()}) == "1122");
    CHECK(played({forward, ending("1") + closed("1", again), ending("2") + closed("2"), ""}) == "12134");
    CHECK(played({forward, ending("1,2") + closed("1,2", again), ending("3") + closed("3")}) == "121213");
    CHECK(played({forward, ending("1") + closed("1", again), ending("2") + closed("2", again), ""}) == "12134");
    CHECK(played({"", ending("1") + closed("1", again), "", ""}) == "12134");
}

TEST_CASE("tuning, capo and transposition: the fret must give the written pitch") {
    const std::string dropped =
        "<attributes><divisions>1</divisions><staff-details>"
        "<staff-tuning line=\"1\"><tuning-step>D</tuning-step><tuning-octave>2</tuning-octave></staff-tuning>"
        "<staff-tuning line=\"2\"><tuning-step>A</tuning-step><tuning-octave>2</tuning-octave></staff-tuning>"
        "<staff-tuning line=\"3\"><tuning-step>D</tuning-step><tuning-octave>3</tuning-octave></staff-tuning>"
        "<staff-tuning line=\"4\"><tuning-step>G</tuning-step><tuning-octave>3</tuning-octave></staff-tuning>"
        "<staff-tuning line=\"5\"><tuning-step>B</tuning-step><tuning-octave>3</tuning-octave></staff-tuning>"
        "<staff-tuning line=\"6\"><tuning-step>E</tuning-step><tuning-octave>4</tuning-octave></staff-tuning>"
        "<capo>2</capo></staff-details></attributes>";
    const auto on = [](int midi, int string, int fret) {
        return fmt::format(
            "<note>{}<duration>1</duration><notations><technical><string>{}</string><fret>{}</fret>"
            "</technical></notations></note>",
            pitchXml(midi), string, fret);
    };
    const Line line = phraseOf(score({on(38 + 2 + 3, 6, 3)}, dropped)).line;
    CHECK(line.moves[0].move.to.value == 43.0);
    CHECK(line.capo == 2);
    CHECK(line.openStrings[5].value == 38.0);
    CHECK(says(errorOf(score({on(38 + 3, 6, 3)}, dropped)), "bar 1, beat 1: string 6 fret 3 is G2"));
    CHECK(says(errorOf(score({on(55 + 23, 3, 21)}, dropped)), "fret 21 is not on a neck of 22 frets with this capo"));
    const std::string octave =
        "<attributes><divisions>1</divisions><transpose><chromatic>0</chromatic>"
        "<octave-change>-1</octave-change></transpose></attributes>";
    CHECK(phraseOf(score({on(74, 3, 7)}, octave)).line.moves[0].move.to.value == 62.0);
}

TEST_CASE("what is not understood is listed, each kind once with its bars; what is only drawn is not") {
    const std::string trill = "<ornaments><trill-mark/></ornaments><articulations><staccato/></articulations>";
    const PhraseFile phrase = phraseOf(score(
        {note({.notations = trill}) + note({.notations = trill, .technical = "<harmonic/><fingering>3</fingering>"}),
         "<direction><direction-type><words>let \x1b[31mring</words></direction-type></direction>"
             + note({.notations = trill + "<slur type=\"start\"/>"}) + note({.notations = slideStart})}));
    CHECK(phrase.line.moves.size() == 4);
    CAPTURE(fmt::format("{}", fmt::join(phrase.notUnderstood, "|")));
    CHECK(phrase.notUnderstood
          == Told{"harmonic: bar 1", "slide that leads to no note: bar 2",
                  "slur without hammer-on, pull-off or slide: bar 2", "staccato: bars 1, 2",
                  "the words 'let ?[31mring': bar 2", "trill mark: bars 1, 2"});
}

TEST_CASE("notes of a chord are one move: struck, bent, let down again, slid to") {
    const auto notes = [](const std::string& bar) {
        std::vector<std::string> all;
        for (const LineMove& m : movesOf(bar))
            all.push_back(fmt::format("{} {} @{:g}{}", gestureName(m.move.gesture), notesOf(m.move), m.beat,
                                      m.picked ? "" : " goes on"));
        return all;
    };
    // G string fret 7 is D4, B string fret 8 G4.
    CHECK(notes(note({}) + second(8) + note({})) == Told{"note D4+G4 @0", "note D4 @1"});
    CHECK(notes(note({.technical = bend("2")}) + second(8)) == Told{"bend D4+G4 – E4+G4 @0"});
    CHECK(notes(note({.technical = bend("2") + bend("-2", "<release/>")})
                + second(8, bend("1") + bend("-1", "<release/>")))
          == Told{"bend D4+G4 – E4+G♯4 @0", "release E4+G♯4 – D4+G4 @0.75 goes on"});
    CHECK(notes(note({.notations = slideStart}) + second(8, "", slideStart) + note({.fret = 9, .notations = slideStop})
                + second(10, "", slideStop))
          == Told{"note D4+G4 @0", "slide D4+G4 – E4+A4 @1 goes on"});
    const auto tied = movesOf(note({}) + second(8) + note({.tie = "<tie type=\"stop\"/>"}) + "<note><chord/>"
                              + pitchXml(67) + "<duration>12</duration><tie type=\"stop\"/><voice>1</voice></note>");
    REQUIRE(tied.size() == 1);
    CHECK(tied[0].ends == 2.0);
    // One of them sounds on, the other is let go.
    const std::string alone = note({.tie = "<tie type=\"stop\"/>"});
    const auto thinner = movesOf(note({}) + second(8) + alone + note({}));
    REQUIRE(thinner.size() == 2);
    CHECK(thinner[0].ends == 2.0);
    CHECK(thinner[1].beat == 2.0);
    CHECK(thinner[1].picked);
    const LineMove chord = movesOf(note({}) + second(8)).front();
    CHECK(chord.move.place == NeckPlace{3, 7});
    CHECK(chord.move.with.front().place == NeckPlace{2, 8});
}

TEST_CASE("what cannot be played is refused with bar, beat and reason") {
    const auto said = [](const std::string& bar) { return errorOf(score({rest(12) + bar})); };
    const std::string here = "bar 1, beat 2: ";
    CHECK(says(said(note({.fret = 23})), here + "fret 23 is not on a neck of 22 frets"));
    CHECK(says(said(note({}) + note({.fret = 9, .before = "<chord/>"})), "two notes on string 3 at once"));
    CHECK(says(said(note({}) + second(15)), "a hand does not reach over 8 frets"));
    CHECK(says(said(note({}) + second(8, bend("-1", "<release/>"))), "a release of more than"));
    CHECK(says(said(note({.technical = bend("2")}) + second(8, bend("2", "<pre-bend/>"))), "bend differently"));
    CHECK(says(said(note({.notations = slideStart}) + note({.fret = 9, .notations = slideStop}) + second(8)),
               "a tie or a slide of some notes of a chord"));
    CHECK(says(said(second(8)), "a note of a chord without a first one"));
    // What some strings of a chord do after its stroke, and grace notes before a chord.
    const std::string chord = note({.notations = slideStart}) + second(8), stays = "<tie type=\"stop\"/>";
    CHECK(says(said(chord + note({.fret = 9, .notations = slideStop})),
               "bar 1, beat 3: a slide from a chord to one note; write all its notes, or a new stroke"));
    CHECK(says(said(chord + note({.notations = slideStart, .tie = stays}) + note({.fret = 9, .notations = slideStop})),
               "bar 1, beat 4: a slide from a chord to one note; write all its notes, or a new stroke"));
    CHECK(
        says(said(chord + note({.technical = bend("1"), .tie = stays})),
             "bar 1, beat 3: a bend of some strings of a chord that sound on; tie all of them, or write a new stroke"));
    CHECK(says(said(chord + note({.fret = 8, .tie = stays})), "bar 1, beat 3: a tie from no note of the same"));
    CHECK(
        says(said(chord + note({.tie = stays}) + note({.fret = 9, .notations = slideStop}) + second(10, "", slideStop)),
             "bar 1, beat 4: a tie or a slide from other strings; write the chord that it comes from"));
    CHECK(says(said(note({.before = "<grace/>"}) + note({}) + second(8)),
               here + "a grace note before a chord; write the chord alone"));
    CHECK(says(said(note({.before = "<grace/>"}) + second(8) + note({})), here + "grace notes of several strings"));
    CHECK(says(said(note({.technical = bend("5.5")})), here + "a bend of 5.5 half steps"));
    CHECK(says(said(note({.technical = bend("3") + bend("3")})), here + "a bend of 6 half steps"));
    CHECK(says(said(note({.fret = 0, .technical = bend("1")})), here + "a bend of an open string"));
    // What stays less than a quarter step away could only die; a quarter step is asked, and a hint comes back.
    const std::string small = " of less than half a half step is too small to be told from a note that dies; write its";
    CHECK(says(said(note({.technical = bend("0.4")})), here + "a bend" + small));
    CHECK(says(said(note({.technical = bend("0.25", "<pre-bend/>")})), here + "a pre-bend" + small));
    CHECK(says(said(note({.technical = bend("1") + bend("-0.25", "<release/>")})), here + "a release" + small));
    CHECK(says(said(note({.technical = bend("1") + bend("0.4")})), here + "a bend" + small));
    CHECK(says(said(note({.technical = bend("0.4")})
                    + note({.technical = bend("-0.4", "<release/>"), .tie = "<tie type=\"stop\"/>"})),
               here + "a bend" + small));
    CHECK(phraseOf(score({note({.technical = bend("0.5")})})).line.moves.size() == 1);
    CHECK(says(said(note({.fret = 1, .duration = 1}) + note({.fret = 22})), "from fret 1 to fret 22 in 56 ms"));
    CHECK(says(said(note({.technical = bend("1") + bend("-2", "<release/>")})), "a release of 2 half steps"));
    CHECK(says(said(note({.technical = bend("-2", "<release/>")})), "a release of 2 half steps"));
    CHECK(says(said(note({.technical = bend("0")})), "a bend of 0"));
    CHECK(says(said(note({.technical = bend("-1")})), "a bend goes up"));
    CHECK(says(said(note({.notations = slideStop})), here + "a slide from no note"));
    CHECK(says(said(note({.fret = 0, .notations = slideStart}) + note({.notations = slideStop})), "open string"));
    CHECK(says(said(note({}) + note({.technical = "<hammer-on type=\"stop\"/>"})), "a hammer-on goes up"));
    CHECK(says(said(note({}) + note({.fret = 9, .technical = "<pull-off type=\"stop\"/>"})), "comes down"));
    CHECK(says(said(note({.tie = "<tie type=\"stop\"/>"})), here + "a tie from no note"));
    CHECK(says(said(note({}) + note({.fret = 9, .tie = "<tie type=\"stop\"/>"})), "a tie from no note of the same"));
    // A hint is back on its note: nothing is left to release.
    CHECK(says(said(note({.technical = bend("0.4") + bend("-0.4", "<release/>")})
                    + note({.technical = bend("-0.4", "<release/>"), .tie = "<tie type=\"stop\"/>"})),
               "a release of 0.4 half steps where the string is bent by 0"));
}

TEST_CASE("what cannot be followed yet, or is no tablature, is refused with the remedy") {
    std::string voice = note({});
    voice.replace(voice.find("<voice>1"), 8, "<voice>2");
    CHECK(says(errorOf(score({note({}) + voice})), "bar 1, beat 2: a second voice"));
    CHECK(
        says(errorOf(score({note({}) + "<backup><duration>12</duration></backup>" + note({})})), "two notes at once"));
    CHECK(says(errorOf(score({"<note>" + pitchXml(62) + "<duration>12</duration></note>"})),
               "a note without string and fret; write the score as tablature"));
    CHECK(says(errorOf(score({note({})}, "<attributes><divisions>12</divisions><staves>2</staves></attributes>")),
               "several staves in one part; export the tablature staff alone"));
    CHECK(says(errorOf(score({note({}) + "<note><grace/>" + pitchXml(62) + "<tie type=\"stop\"/></note>" + note({})})),
               "bar 1, beat 2: a note without string and fret"));
    std::string two = score({note({})});
    two.insert(two.find("</score-partwise>"), "<part id=\"P2\"><measure>" + note({}) + "</measure></part>");
    CHECK(says(errorOf(two), "more than one part has notes"));
    CHECK(says(errorOf(std::string("PK\x03\x04zip", 7)), "save it as uncompressed .musicxml"));
    CHECK(says(errorOf("<score-timewise/>"), "save it as MusicXML by parts"));
    CHECK(says(errorOf("<html/>"), "'html' is not a score"));
    CHECK(says(errorOf(score({})), "a score without notes"));
    CHECK(says(errorOf(score({rest()})), "a score without notes"));
}

TEST_CASE("numbers that are none, or absurd, are refused by name") {
    const auto with = [](const std::string& from, const std::string& to) {
        std::string xml = score({note({.technical = bend("1", "", " last-beat=\"50\"")})});
        const auto at = xml.find(from);
        REQUIRE(at != std::string::npos);
        return errorOf(xml.replace(at, from.size(), to));
    };
    for (const char* number : {"0", "-1", "nan", "inf", "1e9", "0x10", "", " ", "1 2", "99999999999999999999"}) {
        CAPTURE(number);
        CHECK(says(with("<duration>12", fmt::format("<duration>{}", number)), "duration"));
        CHECK(says(with("<divisions>12", fmt::format("<divisions>{}", number)), "divisions"));
    }
    CHECK(says(with("<duration>12", "<duration>12000000"), "at most 64 quarters"));
    CHECK(says(with("<fret>7", "<fret>-1"), "'fret'"));
    CHECK(says(with("<fret>7", "<fret>7.5"), "'fret' must be a whole number"));
    CHECK(says(with("<string>3", "<string>7"), "'string' must be a number from 1 to 6"));
    CHECK(says(with("<step>D", "<step>H"), "a note's step must be A to G"));
    CHECK(says(with("<bend-alter>1", "<bend-alter>NaN"), "'bend-alter'"));
    CHECK(says(with("last-beat=\"50\"", "last-beat=\"-50\""), "'last-beat'"));
    CHECK(says(with("tempo=\"90\"", "tempo=\"0\""), "a tempo"));
    CHECK(says(with("<beat-type>4", "<beat-type>0"), "'beat-type'"));
    // A comment within a number cuts nothing off.
    std::string xml = score({note({})});
    xml.replace(xml.find("<duration>12"), 12, "<duration>1<!-- -->2");
    CHECK(phraseOf(xml).line.length == doctest::Approx(1.0));
}

TEST_CASE("files that mean harm are refused in one line, or read without it") {
    CHECK(says(errorOf(""), "tune.musicxml:1: "));
    const std::string whole = score({note({})});
    for (std::size_t cut = 1; cut + 1 < whole.size(); cut += 7) CHECK(says(errorOf(whole.substr(0, cut)), ":1: "));
    std::string deep = "<score-partwise>";
    for (int i = 0; i < 200000; ++i) deep += "<a>";
    for (int i = 0; i < 200000; ++i) deep += "</a>";
    CHECK(says(errorOf(deep + "</score-partwise>"), "elements within each other"));
    CHECK(says(errorOf("<!-- " + std::string((4u << 20) + 1, ' ')), "bytes are too many for a phrase"));

    // Entities of the file's own stay what they are: text that is no number, or a name as it stands.
    std::string laughs = "<!DOCTYPE score-partwise [<!ENTITY a \"ha\">";
    for (char c = 'b'; c < 'l'; ++c) {
        laughs += fmt::format("<!ENTITY {} \"", c);
        for (int i = 0; i < 10; ++i) laughs += fmt::format("&{};", static_cast<char>(c - 1));
        laughs += "\">";
    }
    laughs += "<!ENTITY file SYSTEM \"file:///etc/passwd\">]>";
    std::string named = score({note({})});
    named.insert(named.find("<part-list/>"), "<work><work-title>&k;&file;</work-title></work>");
    CHECK(phraseOf(laughs + named.substr(named.find("<score-"))).line.title == "&k;&file;");
    std::string number = score({note({})});
    number.replace(number.find("<fret>7"), 7, "<fret>&k;");
    CHECK(says(errorOf(laughs + number.substr(number.find("<score-"))), "'fret' must be a number"));

    // The bound of what is played: repeats of repeats.
    std::vector<std::string> bars(30, "<barline><repeat direction=\"backward\" times=\"99\"/></barline>" + note({}));
    CHECK(says(errorOf(score(bars)), "more than 1000 bars with all repeats"));

    std::string graces;
    for (int i = 0; i < 20; ++i) graces += note({.before = "<grace/>"});
    CHECK(says(errorOf(score({graces + note({})})), "bar 1, beat 1: more than 16 grace notes"));

    // Its text cannot steer a terminal.
    std::string escape = score({note({})});
    escape.replace(escape.find("<step>D"), 7, "<step>\x1b[2J\x9b\n");
    CHECK(says(errorOf(escape), "a note's step must be A to G"));
}

TEST_CASE("a score in UTF-16 is read like the same in UTF-8") {
    const std::string plain = score({note({.technical = bend("2")})});
    for (const bool big : {false, true}) {
        std::string wide = big ? "\xFE\xFF" : "\xFF\xFE";
        for (const char c : plain) wide += big ? std::string{'\0', c} : std::string{c, '\0'};
        CHECK(told(phraseOf(wide).line.moves[0]) == "bend 62>64 @0 picked");
        CHECK(says(errorOf(wide.substr(0, wide.size() / 2)), "tune.musicxml:"));
    }
}

TEST_CASE("only files are read: no folder, no pipe, nothing that is not there") {
    const TestFolder folder;
    const auto refused = [&](const std::filesystem::path& path) {
        const auto phrase = readPhrase(path);
        REQUIRE_FALSE(phrase);
        return phrase.error().message;
    };
    CHECK(says(refused(folder.path), "is not a file"));
    const auto pipe = folder / "pipe.musicxml";
    REQUIRE(mkfifo(pipe.c_str(), 0600) == 0);
    CHECK(says(refused(pipe), "is not a file"));
    CHECK(says(refused(folder / "nothing.musicxml"), "nothing.musicxml"));
    writeText(folder / "large.musicxml", std::string((4u << 20) + 1, ' '));
    CHECK(says(refused(folder / "large.musicxml"), "bytes are more than a .musicxml file has"));
    writeText(folder / "tune.musicxml", score({note({})}));
    CHECK(readPhrase(folder / "tune.musicxml"));
}

TEST_CASE("every phrase in the source tree is built in, is understood, and together they hold every gesture") {
    std::size_t files = 0;
    std::set<Gesture> gestures;
    for (const auto& entry : std::filesystem::directory_iterator(LANDFALL_SOURCE_DIR "/src/phrases")) {
        if (entry.path().extension() != ".musicxml" && entry.path().extension() != ".toml") continue;
        ++files;
        const auto phrase = readPhrase(entry.path());
        REQUIRE_MESSAGE(phrase, (phrase ? "" : phrase.error().message));
        CAPTURE(phrase->line.title);
        CHECK(builtInPhraseText(phrase->line.title) == readText(entry.path()));
        CHECK(phrase->notUnderstood.empty());
        CHECK(phrase->line.barBegins.size() >= 4);
        CHECK(phrase->line.barBegins.size() <= 8);
        CHECK(phrase->line.tempo);
        for (const LineMove& move : phrase->line.moves) gestures.insert(move.move.gesture);
    }
    CHECK(files == builtInPhraseFiles().size());
    CHECK(builtInPhrases().size() == files);
    CHECK(gestures.size() == gestureKinds().size());
}

TEST_CASE("the same line elsewhere is the same line, on other strings") {
    const auto here = findPhrase("lantern-street"), there = findPhrase("SAME LINE elsewhere");
    REQUIRE(here);
    REQUIRE(there);
    REQUIRE(here->line.moves.size() == there->line.moves.size());
    for (std::size_t i = 0; i < here->line.moves.size(); ++i) {
        const LineMove &a = here->line.moves[i], &b = there->line.moves[i];
        CHECK(told(a) == told(b));
        CHECK(a.move.place->string + 1 == b.move.place->string);
    }
    const auto unknown = findPhrase("lantern lane");
    REQUIRE_FALSE(unknown);
    CHECK(says(unknown.error().message, "nearest are 'Lantern Street'"));
}

// Read off the written score by hand.
TEST_CASE("a bend goes over into another two frets lower, and the first bar comes back with another ending") {
    const auto phrase = findPhrase("two stairs down");
    REQUIRE(phrase);
    Told all;
    for (const LineMove& move : phrase->line.moves)
        all.push_back(fmt::format("{}:{:g} {}", move.bar, move.count, told(move)));
    const Told first{"1:1 bend 69>70 @0 picked",      "1:2 bend 67>69 @1 goes on",
                     "1:3 note 65>65 @2 picked",      "1:4 note 62>62 @3 picked",
                     "2:1 note 62>62 @4 picked",      "2:1.5 hammer-on 62>64 @4.5 goes on",
                     "2:2 pull-off 64>62 @5 goes on", "2:3 vibrato 60>60 @6 picked, shaken"};
    const Told second{"1:1 bend 69>70 @8 picked",           "1:2 bend 67>69 @9 goes on",
                      "1:3 note 65>65 @10 picked",          "1:4 note 62>62 @11 picked",
                      "3:1 pre-bend 62>64 @12 picked",      "3:1.5 release 64>62 @12.5 goes on, landing",
                      "3:2 note 60>60 @13 picked",          "3:3 vibrato 57>57 @14 picked, shaken",
                      "4:2 slide 59>60 @17 picked, landing"};
    Told whole = first;
    whole.insert(whole.end(), second.begin(), second.end());
    CHECK(all == whole);
}
