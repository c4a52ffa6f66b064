// From strings as they were followed, here invented frame by frame, to what is said of each: every border from both sides.
#include "src/practice/chord_judge.h"

#include <algorithm>
#include <cmath>
#include <functional>
#include <vector>

#include <doctest/doctest.h>

#include "src/music/chord_move.h"

using namespace landfall;

namespace {

struct Voiced {
    std::function<double(double)> midi;  // by the time since the stroke, s
    double own = 0.3, clear = 0.3, unshared = 1.0, sd = 0.4;
};
Voiced at(double midi) {
    return {[midi](double) { return midi; }};
}
// 0.1 s long, from half a second on.
Voiced going(double from, double to) {
    return {[=](double t) { return from + (to - from) * std::clamp((t - 0.5) / 0.1, 0.0, 1.0); }};
}

ChordPlayed played(const std::vector<Voiced>& strings, double residual = 0.02, double seconds = 1.2) {
    ChordPlayed played{.frames = {}, .stroke = 1.0, .end = 1.0 + seconds, .together = {}};
    for (double t = 0.05; t < seconds; t += 0.006) {
        VoiceTracker::Frame frame{.time = 1.0 + t, .voices = {}, .residual = residual};
        for (std::size_t j = 0; j < strings.size(); ++j)
            frame.voices[j] = {.pitch = frequencyOf(MidiPitch(strings[j].midi(t))),
                               .sd = Cents(strings[j].sd),
                               .inharmonicity = 1e-4,
                               .own = strings[j].own,
                               .clear = strings[j].clear,
                               .unshared = strings[j].unshared,
                               .power = 0.01 * std::exp(-3.0 * t)};
        played.frames.push_back(frame);
    }
    return played;
}

Landing landingOf(const char* asked, const ChordPlayed& heard) {
    const Move move = *parseChordMove(asked);
    const auto landings = judgeChords({&move, 1}, 1, heard, {});
    REQUIRE(landings.size() == 1);
    return landings.front();
}

// What is said of the upper one of two strings, or the highest of four.
StringLanding upper(const Voiced& voiced, double residual = 0.02) {
    return landingOf("note:D4+B4", played({at(62.0), voiced}, residual)).strings[1];
}
StringLanding highest(const Voiced& voiced) {
    return landingOf("note:D3+A3+D4+F#4", played({at(50.0), at(57.0), at(62.0), voiced})).strings[3];
}

}  // namespace

TEST_CASE(
    "a string sounds that explains a fortieth of the power by partials of its own, and a quarter of what is left") {
    Voiced voiced = at(71.0);
    voiced.own = voiced.clear = 0.030;
    CHECK(upper(voiced).heard == StringHeard::yes);
    voiced.clear = 0.020;  // the rest is shared
    CHECK(upper(voiced).heard == StringHeard::no);
    voiced.own = voiced.clear = 0.1;
    CHECK(upper(voiced, 0.35).heard == StringHeard::yes);
    CHECK(upper(voiced, 0.45).heard == StringHeard::notSure);
}

TEST_CASE("of four strings a faint one is not sure, and a silent one is silent") {
    Voiced voiced = at(66.0);
    voiced.own = voiced.clear = 0.00025;
    CHECK(highest(voiced).heard == StringHeard::notSure);
    voiced.own = voiced.clear = 0.00015;
    CHECK(highest(voiced).heard == StringHeard::no);
    voiced.own = voiced.clear = 0.016;  // each has less
    CHECK(highest(voiced).heard == StringHeard::yes);
}

TEST_CASE("a string whose partials are another's sounds surely from a twenty-fifth of the power on") {
    Voiced voiced = at(71.0);
    voiced.unshared = 0.3;
    voiced.clear = 0.0;
    voiced.own = 0.05;
    CHECK(upper(voiced).heard == StringHeard::yes);
    voiced.own = 0.03;
    CHECK(upper(voiced).heard == StringHeard::notSure);
    voiced.unshared = 0.5;
    CHECK(upper(voiced).heard == StringHeard::no);
}

TEST_CASE("what strays further than 160 cents from its note is another string, or none") {
    CHECK(upper(at(72.5)).heard == StringHeard::yes);
    CHECK(upper(at(72.5)).landingError);
    CHECK(upper(at(72.75)).heard == StringHeard::no);
    CHECK_FALSE(upper(at(72.75)).landingError);
}

TEST_CASE("another string beside makes a pitch by three tenths of a cent less sure") {
    Voiced voiced = at(71.0);
    voiced.sd = 0.1;
    // Over a quarter of a second the judge makes .21 cents of .32.
    CHECK(std::abs(upper(voiced).sd->value - 0.207) < 0.02);
}

TEST_CASE("strings are told apart before a unison where five frames lie 60 cents apart") {
    // The held string does not sound, which only the time before can tell.
    const auto heldHeard = [](double apart, double seconds) {
        Voiced held = at(67.0);
        held.own = held.clear = 0.0;
        // three frames on the fret, then nearer, then there
        const auto bent = [=](double t) { return t < 0.067 ? 65.0 : t < 0.067 + seconds ? 67.0 - apart : 67.0; };
        return landingOf("bend:F4+G4:G4+G4", played({{bent}, held})).strings[1].heard;
    };
    CHECK(heldHeard(0.75, 0.1) == StringHeard::no);
    CHECK(heldHeard(0.50, 0.1) == StringHeard::yes);
    CHECK(heldHeard(2.0, 0.019) == StringHeard::no);
    CHECK(heldHeard(2.0, 0.006) == StringHeard::yes);
}

TEST_CASE("a unison's strings, read together, are unsure by eight tenths of a cent beside their own doubt") {
    ChordPlayed heard = played({going(65.0, 67.0), at(67.0)});
    heard.together = [](double, double, const VoiceTracker::Stop& asked, const VoiceTracker::Frame& apart) {
        auto frame = apart;
        for (std::size_t j = 0; j < 2; ++j) frame.voices[j].pitch = asked.pitches[j];
        for (auto& voice : frame.voices) voice.sd = Cents(0.2);
        return std::optional(frame);
    };
    const Landing landing = landingOf("bend:F4+G4:G4+G4", heard);
    REQUIRE(landing.strings[0].sd);
    CHECK(landing.strings[0].sd->value > 0.7);
    CHECK(landing.strings[0].sd->value < 1.0);
}

TEST_CASE("a held string is dragged from where it was from 0.08 s after the stroke to 0.15 s before the arrival") {
    // The arrival is at .29 s.
    const auto bent = [](double t) { return 62.0 + 2.0 * std::clamp((t - 0.2) / 0.1, 0.0, 1.0); };
    const auto held = [](double t) { return t < 0.077 ? 68.0 : t < 0.121 ? 67.0 : t < 0.149 ? 67.002 : 67.2; };
    const Landing landing = landingOf("bend:D4+G4:E4+G4", played({{bent}, {held}}));
    REQUIRE(landing.strings[1].dragged);
    CHECK(std::abs(landing.strings[1].dragged->value - 20.0) < 0.1);
}

TEST_CASE("a string 50 cents off is on another fret") {
    CHECK(landingOf("note:D4+B4", played({at(62.0), at(71.45)})).verdict == Verdict::over);
    const Landing beside = landingOf("note:D4+B4", played({at(62.0), at(71.55)}));
    CHECK(beside.verdict == Verdict::wrongFret);
    CHECK(beside.sentence == "D4 right, C5 sounded in place of B4.");
}

TEST_CASE("a unison is in unison under three cents, and its beats are told where an ear counts them") {
    const auto said = [](double cents, double beat) {
        Landing landing;
        landing.move = *parseChordMove("bend:F4+G4:G4+G4");
        landing.strings.resize(2);
        for (auto& string : landing.strings) {
            string.heard = StringHeard::yes;
            string.landingError = string.sd = Cents(0.0);
        }
        landing.strings[0].landingError = Cents(-cents);
        landing.beat = Hertz(beat);
        sumUpStrings(landing, Cents(10.0));
        return landing.sentence;
    };
    CHECK(said(2.6, 0.6) == "In unison.");
    CHECK(said(3.4, 0.6) == "3 under the held string: it beats 0.6 times a second.");
    CHECK(said(3.4, 0.3) == "3 under the held string.");
    CHECK(said(20.0, 7.0) == "20 under the held string: it beats 7.0 times a second.");
    CHECK(said(30.0, 9.0) == "30 under the held string.");
}

TEST_CASE("a held string that was pulled by five cents is told") {
    const auto said = [](double cents) {
        Voiced held = {[cents](double t) { return t < 0.45 ? 67.0 : 67.0 + cents / 100.0; }};
        return landingOf("bend:D4+G4:E4+G4", played({going(62.0, 64.0), held})).sentence;
    };
    CHECK(said(6.0).find("The held G4 was pulled 6 up.") != std::string::npos);
    CHECK(said(4.2).find("pulled") == std::string::npos);
}

TEST_CASE("of five strings a pitch is not sure where a twentieth of the power is unexplained") {
    const auto heard = [](double residual) {
        return landingOf("note:A2+E3+A3+C#4+E4", played({at(45.0), at(52.0), at(57.0), at(61.0), at(64.0)}, residual))
            .strings[3];
    };
    REQUIRE(heard(0.05).sd);
    CHECK(std::abs(heard(0.05).sd->value - 6.7) < 0.3);  // 30 cents times the root of it
    CHECK_FALSE(heard(0.06).sd);
    CHECK(heard(0.06).heard == StringHeard::notSure);
}

TEST_CASE("how far a held string was pulled is told where that is twice its doubt") {
    const auto dragged = [](double sd) {
        Voiced held = {[](double t) { return t < 0.45 ? 67.0 : 67.2; }};
        held.sd = sd;  // cents a frame; of 20 pulled, before and after together, half as much is left
        return landingOf("bend:D4+G4:E4+G4", played({going(62.0, 64.0), held})).strings[1].dragged.has_value();
    };
    CHECK(dragged(15.0));
    CHECK_FALSE(dragged(22.0));
}

TEST_CASE("nothing is told of two strings that slide while one that sounded in the last 60 ms is on its way") {
    const auto told = [](double sounds) {
        const Move move = *parseChordMove("slide:D4+B4:E4+C5");
        ChordPlayed heard = played({going(62.0, 64.0), at(71.0)});
        heard.over = false;
        const double end = heard.frames.back().time;
        for (auto& frame : heard.frames)
            if (frame.time < end - sounds) frame.voices[1].own = frame.voices[1].clear = 0.0;
        return judgeChords({&move, 1}, 1, heard, {}).size();
    };
    CHECK(told(0.042) == 0);
    CHECK(told(0.022) == 1);
}

TEST_CASE(
    "a string is late after a pause of a tenth of a second that is twice as long as any other between the strings") {
    // From low to high, so long after the stroke; the second two strings explain nothing in the first frames.
    const auto lateBy = [](const std::vector<std::optional<double>>& began, std::size_t j) {
        ChordPlayed heard = played({at(50.0), at(57.0), at(66.0)});
        for (auto& frame : heard.frames)
            if (frame.time < heard.stroke + 0.1)
                for (std::size_t k = 1; k < 3; ++k) frame.voices[k].own = frame.voices[k].clear = 0.0;
        heard.since = [&](double from, const VoiceTracker::Frame&, std::size_t strings) {
            CHECK((from == heard.stroke && strings == 3));
            std::vector<std::optional<double>> all;
            for (const auto& each : began) all.push_back(each ? std::optional(from + *each) : std::nullopt);
            return all;
        };
        return landingOf("note:D3+A3+F#4", heard).strings[j].late;
    };
    REQUIRE(lateBy({0.0, 0.02, 0.17}, 2));
    CHECK(std::abs(lateBy({0.0, 0.02, 0.17}, 2)->value - 0.15) < 1e-6);
    CHECK_FALSE(lateBy({0.0, 0.02, 0.17}, 1));
    CHECK_FALSE(lateBy({0.0, 0.02, 0.17}, 0));
    CHECK(lateBy({0.0, 0.02, 0.125}, 2));
    CHECK_FALSE(lateBy({0.0, 0.02, 0.115}, 2));
    CHECK(lateBy({0.0, 0.02, 0.365}, 2));
    CHECK_FALSE(lateBy({0.0, 0.02, 0.375}, 2));
    CHECK(lateBy({0.0, 0.07, 0.215}, 2));  // a slow strum is even
    CHECK_FALSE(lateBy({0.0, 0.07, 0.205}, 2));
    CHECK(lateBy({0.15, 0.0, 0.15}, 0));
    CHECK(lateBy({0.15, 0.0, 0.15}, 2));
    CHECK(lateBy({0.0, {}, 0.15}, 2));
    CHECK_FALSE(lateBy({{}, {}, 0.15}, 2));
}

TEST_CASE("a string that came late is told after the others, to ten milliseconds") {
    Landing landing;
    landing.move = *parseChordMove("note:D4+B4");
    landing.strings.resize(2);
    for (auto& string : landing.strings) {
        string.heard = StringHeard::yes;
        string.landingError = string.sd = Cents(0.0);
    }
    landing.strings[1].late = Seconds(0.147);
    sumUpStrings(landing, Cents(10.0));
    CHECK(landing.sentence == "Both right. B4 came 150 ms late.");
    CHECK(landing.verdict == Verdict::deadOn);
}
