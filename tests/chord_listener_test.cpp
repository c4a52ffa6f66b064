// Moves of several strings: from sound to what is said of each string.
#include "src/practice/chord_listener.h"

#include <cmath>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "src/formats/landing_json.h"
#include "src/music/chord_move.h"
#include "tests/support/string_sound.h"
#include "tests/support/summed.h"

using namespace landfall;

namespace {

constexpr double rate = 48000.0;

std::vector<float> string(double start, const std::function<double(double)>& midi, double inharmonicity,
                          double seconds = 1.4, unsigned seed = 1) {
    return stringSound({.sampleRate = rate,
                        .seconds = seconds,
                        .silence = start,
                        .inharmonicity = inharmonicity,
                        .decay = 0.9,
                        .noise = 1e-4,
                        .seed = seed},
                       [&](double t) { return frequencyOf(MidiPitch(midi(t))).value; });
}

std::vector<float> held(double start, double midi, double inharmonicity) {
    return string(
        start, [midi](double) { return midi; }, inharmonicity);
}

// From one pitch to another in 0.18 s, 0.45 s after the stroke.
std::vector<float> bent(double start, double from, double to, double inharmonicity) {
    return string(
        start,
        [from, to](double t) {
            const double share = std::clamp((t - 0.45) / 0.18, 0.0, 1.0);
            return from + (to - from) * 0.5 * (1.0 - std::cos(share * 3.14159265));
        },
        inharmonicity);
}

std::vector<Landing> landingsOf(const std::vector<float>& samples, std::initializer_list<const char*> moves,
                                std::size_t blockSize = 4096, Target target = Target::concert) {
    std::vector<Move> asked;
    for (const char* text : moves) asked.push_back(*parseChordMove(text));
    ChordListener listener(asked, {.sampleRate = rate, .aim = Cents(10.0), .target = target});
    for (std::size_t n = 0; n < samples.size(); n += blockSize)
        listener.process(std::span(samples).subspan(n, std::min(blockSize, samples.size() - n)));
    return listener.finish();
}

}  // namespace

TEST_CASE("two strings struck together each have their own landing") {
    const auto samples = summed({held(0.3, 62.07, 2e-4), held(0.31, 70.84, 1e-4)});
    const auto landings = landingsOf(samples, {"note:D4+B4"});
    REQUIRE(landings.size() == 1);
    const auto& strings = landings.front().strings;
    REQUIRE((strings[0].landingError && strings[1].landingError));
    CHECK(strings[0].landingError->value == doctest::Approx(7.0).epsilon(0.03));
    CHECK(strings[1].landingError->value == doctest::Approx(-16.0).epsilon(0.03));
    CHECK(strings[0].sd->value < 1.5);
    CHECK(landings.front().sentence == "D4 right, B4 16 under. The sixth is 23 narrow.");
    CHECK(landings.front().verdict == Verdict::near);
    CHECK(std::abs(landings.front().landingTime->value - 0.3) < 0.03);
}

TEST_CASE("a string struck late is told, however slowly it was meant under a tenth of a second it is not") {
    const auto late = [](double low, double high, const char* move = "note:D4+B4") {
        const auto landings = landingsOf(summed({held(0.3 + low, 62.07, 2e-4), held(0.3 + high, 70.94, 1e-4)}), {move});
        REQUIRE(landings.size() == 1);
        for (const StringLanding& string : landings[0].strings) {
            CHECK(string.heard == StringHeard::yes);
            REQUIRE(string.landingError);
            CHECK(std::abs(std::abs(string.landingError->value) - 6.5) < 1.5);
        }
        return std::pair(landings[0].strings[0].late, landings[0].strings[1].late);
    };
    for (const double by : {0.12, 0.15, 0.22, 0.3}) {
        CAPTURE(by);
        const auto [none, upper] = late(0.0, by);
        CHECK_FALSE(none);
        REQUIRE(upper);
        CHECK(std::abs(upper->value - by) < 0.015);
        const auto [lower, neither] = late(by, 0.0);
        CHECK_FALSE(neither);
        REQUIRE(lower);
        CHECK(std::abs(lower->value - by) < 0.015);
    }
    for (const double by : {0.0, 0.04, 0.08}) {
        CAPTURE(by);
        CHECK(late(0.0, by) == std::pair<std::optional<Seconds>, std::optional<Seconds>>{});
        CHECK(late(by, 0.0) == std::pair<std::optional<Seconds>, std::optional<Seconds>>{});
    }
}

TEST_CASE("a string that rings on from the chord before is no sign that the next one is late") {
    // D4 rings through; B4, then C5 over it.
    auto sound = summed({held(0.3, 62.0, 2e-4), held(0.3, 71.0, 1e-4)});
    const auto after = held(0.6, 72.0, 1e-4);
    sound.resize(std::max(sound.size(), after.size()));
    for (std::size_t n = 0; n < after.size(); ++n) sound[n] += after[n];
    for (const Landing& landing : landingsOf(sound, {"note:D4+B4", "note:D4+C5"}))
        for (const StringLanding& string : landing.strings) CHECK_FALSE(string.late);
}

TEST_CASE("an interval is held against equal temperament and against the pure one") {
    // a pure major third: 386.31 cents (Helmholtz's 5/4), 13.69 under the equal one
    CHECK(pureInterval(4).value == doctest::Approx(386.31).epsilon(1e-4));
    CHECK(pureInterval(9).value == doctest::Approx(884.36).epsilon(1e-4));
    CHECK(pureInterval(16).value == doctest::Approx(1586.31).epsilon(1e-4));
    const auto landings = landingsOf(summed({held(0.3, 60.0, 2e-4), held(0.3, 63.8631, 1e-4)}), {"note:C4+E4"});
    REQUIRE(landings.size() == 1);
    const auto& third = landings[0].strings[1];
    REQUIRE((third.interval && third.pureInterval));
    CHECK(std::abs(third.interval->value + 13.7) < 0.5);
    CHECK(std::abs(third.pureInterval->value) < 0.5);
    CHECK_FALSE(landings[0].strings[0].interval);
}

TEST_CASE("just: a string is held against the one below it, or where that one is bent against the one that is held") {
    // C4 8 cents over, and over it the pure third (Helmholtz's 5/4) 5 cents wide
    const auto third =
        landingsOf(summed({held(0.3, 60.08, 2e-4), held(0.3, 63.9931, 1e-4)}), {"note:C4+E4"}, 4096, Target::just);
    REQUIRE(third.size() == 1);
    CHECK(third[0].target == Target::just);
    CHECK(std::abs(third[0].strings[0].landingError->value - 8.0) < 0.5);
    CHECK(std::abs(third[0].strings[1].landingError->value - 5.0) < 0.7);
    CHECK(std::abs(third[0].strings[1].firstStopError->value - 5.0) < 1.0);
    CHECK(std::abs(third[0].strings[1].target.value - (8.0 - 13.69)) < 0.5);
    CHECK(third[0].sentence == "Both right. The third is 5 too wide to be pure.");

    // D4 bent to 20 under the E4 that is a pure minor third (6/5) under a G4 6 over
    const auto bend = landingsOf(summed({bent(0.3, 62.0, 67.06 - 3.1564 - 0.2, 2e-4), bent(0.3, 67.06, 67.06, 1e-4)}),
                                 {"bend:D4+G4:E4+G4"}, 4096, Target::just);
    REQUIRE(bend.size() == 1);
    CHECK(std::abs(bend[0].strings[0].landingError->value + 20.0) < 1.0);
    CHECK(std::abs(bend[0].strings[1].landingError->value - 6.0) < 0.7);
    CHECK(bend[0].landingError == bend[0].strings[0].landingError);
    CHECK(bend[0].sentence == "E4 20 under, G4 right. The third is 20 too wide to be pure.");

    // Where the string that it is held against is silent the other one is held against concert pitch.
    const auto alone = landingsOf(held(0.3, 71.09, 1e-4), {"note:D4+B4"}, 4096, Target::just);
    REQUIRE(alone.size() == 1);
    CHECK(alone[0].strings[0].heard == StringHeard::no);
    CHECK(std::abs(alone[0].strings[1].landingError->value - 9.0) < 0.7);
}

TEST_CASE("own guitar: strings that were struck before where a move is to land say how this guitar sounds there") {
    const auto shape = summed({held(0.3, 64.07, 2e-4), held(0.3, 72.12, 1e-4)});
    const auto slide = [](double at, double low, double high) {
        const auto slid = [at](double from, double to, double b) {
            return string(
                at, [from, to](double t) { return t < 0.5 ? from : to; }, b);
        };
        return summed({slid(62.0, low, 2e-4), slid(71.0, high, 1e-4)});
    };
    auto sound = slide(2.3, 64.07, 72.02);
    for (std::size_t i = 0; i < shape.size(); ++i) sound[i] += shape[i];
    const auto landings = landingsOf(sound, {"note:E4+C5", "slide:D4+B4:E4+C5"}, 4096, Target::ownGuitar);
    REQUIRE(landings.size() == 2);
    CHECK(landings[0].target == Target::concert);
    CHECK(std::abs(landings[0].strings[1].landingError->value - 12.0) < 0.7);
    CHECK(landings[1].target == Target::ownGuitar);
    CHECK(std::abs(landings[1].strings[0].landingError->value) < 0.7);
    CHECK(std::abs(landings[1].strings[1].landingError->value + 10.0) < 1.0);
    CHECK(std::abs(landings[1].strings[1].interval->value - (-5.0)) < 1.0);  // from equal temperament all the same
    const auto unknown = landingsOf(slide(0.3, 64.07, 72.02), {"slide:D4+B4:E4+C5"}, 4096, Target::ownGuitar);
    REQUIRE(unknown.size() == 1);
    CHECK(unknown[0].target == Target::concert);
    CHECK(std::abs(unknown[0].strings[0].landingError->value - 7.0) < 0.7);
}

TEST_CASE("how the input is cut changes nothing") {
    const auto samples = summed({held(0.3, 62.07, 2e-4), held(0.31, 70.84, 1e-4)});
    const auto a = landingsOf(samples, {"note:D4+B4"}), b = landingsOf(samples, {"note:D4+B4"}, 77);
    REQUIRE((a.size() == 1 && b.size() == 1));
    CHECK(a[0].strings[0].landingError == b[0].strings[0].landingError);
    CHECK(a[0].landingTime == b[0].landingTime);
}

TEST_CASE("an oblique bend: the bent string lands, the held one tells that it was dragged along") {
    const auto samples = summed({bent(0.3, 62.0, 63.82, 2e-4), bent(0.3, 67.0, 67.09, 1e-4)});
    const auto landings = landingsOf(samples, {"bend:D4+G4:E4+G4"});
    REQUIRE(landings.size() == 1);
    const auto& landing = landings.front();
    REQUIRE((landing.strings[0].landingError && landing.strings[1].dragged));
    CHECK(landing.strings[0].landingError->value == doctest::Approx(-18.0).epsilon(0.03));
    CHECK(landing.strings[1].dragged->value == doctest::Approx(9.0).epsilon(0.1));
    CHECK(landing.sentence == "E4 18 under, G4 right. The held G4 was pulled 9 up. The third is 27 wide.");
    CHECK(std::abs(landing.landingTime->value - 0.92) < 0.03);
}

TEST_CASE("bend and release under one stroke, and the same bend picked again") {
    const auto eased = [](double share) { return 0.5 - 0.5 * std::cos(3.14159265 * std::clamp(share, 0.0, 1.0)); };
    const auto upAndBack = [&](double t) {
        return 62.0 + 2.1 * eased((t - 0.3) / 0.12) - 2.05 * eased((t - 0.75) / 0.12);
    };
    const auto samples = summed({string(0.3, upAndBack, 2e-4, 1.2),
                                 string(
                                     0.3, [](double) { return 67.0; }, 1e-4, 1.2),
                                 bent(1.6, 62.0, 63.9, 2e-4), held(1.6, 67.0, 1e-4)});
    const auto landings = landingsOf(samples, {"bend:D4+G4:E4+G4", "release:E4+G4:D4+G4", "bend:D4+G4:E4+G4"});
    REQUIRE(landings.size() == 3);
    CHECK(landings[0].strings[0].landingError->value == doctest::Approx(10.0).epsilon(0.05));
    CHECK(landings[1].strings[0].landingError->value == doctest::Approx(5.0).epsilon(0.1));
    CHECK(landings[2].strings[0].landingError->value == doctest::Approx(-10.0).epsilon(0.05));
    CHECK(landings[2].onset.value > 1.5);
}

TEST_CASE("a unison bend is told by its distance from the held string") {
    const auto under = landingsOf(summed({bent(0.3, 65.0, 66.94, 2e-4), held(0.3, 67.02, 1e-4)}), {"bend:F4+G4:G4+G4"});
    REQUIRE(under.size() == 1);
    REQUIRE(apartInUnison(under[0]));
    CHECK(std::abs(apartInUnison(under[0])->value + 8.0) < 1.0);
    REQUIRE(under[0].beat);
    CHECK(std::abs(under[0].beat->value - 1.81) < 0.25);  // 8 cents at 392 Hz
    CHECK(under[0].sentence.starts_with("8 under the held string: it beats "));
    const auto together =
        landingsOf(summed({bent(0.3, 65.0, 67.03, 2e-4), held(0.3, 67.02, 1e-4)}), {"bend:F4+G4:G4+G4"});
    REQUIRE(together.size() == 1);
    CHECK(together[0].sentence == "In unison.");
    // The held string is silent: what is heard comes to its note, and is no unison.
    const auto alone = landingsOf(bent(0.3, 65.0, 67.03, 2e-4), {"bend:F4+G4:G4+G4"});
    REQUIRE(alone.size() == 1);
    CHECK(alone[0].strings[1].heard == StringHeard::no);
    CHECK(alone[0].sentence.starts_with("G4 right, G4 did not sound."));
}

TEST_CASE("an octave over another string a silent one is not sure, and nothing is said to be right or silent") {
    const auto hidden = landingsOf(held(0.3, 50.03, 2e-4), {"note:D3+D4"});
    REQUIRE(hidden.size() == 1);
    CHECK(hidden[0].strings[0].heard == StringHeard::yes);
    CHECK(hidden[0].strings[1].heard == StringHeard::notSure);
    CHECK(hidden[0].sentence == "D3 right, D4 not sure. It cannot be told apart from the other string.");
    CHECK(hidden[0].verdict == Verdict::notMeasurable);
    CHECK_FALSE(hidden[0].landingError);
    const std::string json = landingsAsJson(hidden);
    CHECK(json.find("\"heard_sure\": true") < json.find("\"heard_sure\": false"));
    CHECK(json.find("\"heard_sure\": false") != std::string::npos);
    // What surely is out is told.
    const auto under = landingsOf(held(0.3, 49.8, 2e-4), {"note:D3+A4"});
    REQUIRE(under.size() == 1);
    CHECK(under[0].sentence == "D3 20 under, A4 not sure. It cannot be told apart from the other string.");
    CHECK(under[0].verdict == Verdict::near);
    CHECK(under[0].landingError == under[0].strings[0].landingError);
    // Both sound, the upper one beside the octave; and of the lower one there is no doubt.
    const auto both = landingsOf(summed({held(0.3, 50.0, 2e-4), held(0.3, 62.21, 1e-4)}), {"note:D3+D4"});
    REQUIRE(both.size() == 1);
    CHECK(both[0].strings[1].heard == StringHeard::yes);
    CHECK(std::abs(both[0].strings[1].landingError->value - 21.0) < 1.0);
    const auto upper = landingsOf(held(0.3, 62.0, 1e-4), {"note:D3+D4"});
    REQUIRE(upper.size() == 1);
    CHECK(upper[0].strings[0].heard == StringHeard::no);
}

TEST_CASE("a string that does not sound, a wrong fret, and a move that was not played are told") {
    const auto silent = landingsOf(held(0.3, 62.0, 2e-4), {"note:D4+B4"});
    REQUIRE(silent.size() == 1);
    CHECK(silent[0].strings[1].heard == StringHeard::no);
    CHECK_FALSE(silent[0].strings[1].landingError);
    CHECK(silent[0].sentence == "D4 right, B4 did not sound.");
    CHECK(silent[0].verdict == Verdict::died);

    const auto wrong = landingsOf(summed({held(0.3, 62.0, 2e-4), held(0.3, 72.05, 1e-4)}), {"note:D4+B4"});
    REQUIRE(wrong.size() == 1);
    CHECK(wrong[0].sentence == "D4 right, C5 sounded in place of B4.");
    CHECK(wrong[0].verdict == Verdict::wrongFret);

    CHECK(landingsOf(summed({held(0.3, 62.0, 2e-4), held(0.3, 67.0, 1e-4)}), {"note:A3+E4"}).empty());
    CHECK(landingsOf(std::vector<float>(96000, 0.0f), {"note:D4+B4"}).empty());
    CHECK(landingsOf({}, {"note:D4+B4"}).empty());
}

TEST_CASE("strings struck a twenty-fifth of a second apart are one stroke, of a recording too") {
    const auto onset = [](double apart) {
        const auto landings =
            landingsOf(summed({held(0.3, 62.0, 2e-4), held(0.3 + apart, 71.0, 1e-4)}), {"note:D4+B4"});
        REQUIRE(landings.size() == 1);
        return landings[0].onset.value - 0.3;
    };
    CHECK(onset(0.034) < 0.015);
    CHECK(onset(0.052) > 0.04);
}
