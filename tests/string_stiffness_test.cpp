#include "src/practice/string_stiffness.h"

#include <cmath>
#include <random>
#include <vector>

#include <doctest/doctest.h>

#include "dsp/quantise.h"
#include "src/audio/plucked_string.h"
#include "src/audio/simulated_player.h"
#include "src/practice/listener.h"
#include "tests/support/students.h"

using namespace landfall;

namespace {

const NeckPlace g7{3, 7};
const MidiPitch d4(62.0);

Move asked(NeckPlace place, MidiPitch note) {
    return {Gesture::bend, note, MidiPitch(note.value + 1.0), place, std::nullopt};
}

// Half a second of settled frames of one note, then its end. `stiffness` of each frame by its number.
template <typename Stiffness>
void play(StringStiffness& strings, double begin, const Move& move, Stiffness stiffness, PitchFrame like = {}) {
    for (int i = 0; i < 100; ++i) {
        PitchFrame frame = like;
        frame.centre = frame.available = Seconds(begin + 0.005 * i);
        if (!frame.pitch) frame.pitch = frequencyOf(move.from);
        frame.inharmonicity = stiffness(i);
        if (frame.inharmonicitySd == 0.0) frame.inharmonicitySd = 0.02 * frame.inharmonicity;
        strings.settled(frame);
    }
    Landing landing;
    landing.move = move;
    landing.verdict = Verdict::inTune;
    landing.onset = Seconds(begin);
    landing.end = Seconds(begin + 0.5);
    strings.tryEnded(landing);
}

void playClear(StringStiffness& strings, int notes, double stiffness, double from = 0.0) {
    for (int i = 0; i < notes; ++i) play(strings, from + i, asked(g7, d4), [stiffness](int) { return stiffness; });
}

}  // namespace

TEST_CASE("three clear notes tell a string's stiffness at every fret, by Fletcher and Rossing's B ~ 1 / L²") {
    StringStiffness strings{{}};
    playClear(strings, 2, 2e-4);
    CHECK_FALSE(strings.at(g7).has_value());
    playClear(strings, 1, 2e-4, 10.0);
    REQUIRE(strings.at(g7).has_value());
    CHECK(*strings.at(g7) / (2e-4) == doctest::Approx(1.0));
    // The twelfth fret halves the string.
    CHECK(*strings.at({3, 19}) / (8e-4) == doctest::Approx(1.0));
    CHECK(*strings.at({3, 0}) / (2e-4 * std::exp2(-7.0 / 6.0)) == doctest::Approx(1.0));
    CHECK_FALSE(strings.at({2, 7}).has_value());
    CHECK(strings.openStrings().size() == 3);
    // A capo on the second fret: the same places lie two frets further up.
    StringStiffness capoed{{.known = strings.openStrings(), .capo = 2}};
    CHECK(*capoed.at({3, 5}) / (2e-4) == doctest::Approx(1.0));
}

TEST_CASE("what is heard while the note is bent is carried back by the rise of the tension") {
    StringStiffness strings{{}};
    for (int note = 0; note < 3; ++note) {
        PitchFrame sharp;
        sharp.pitch = Hertz(frequencyOf(d4).value * std::exp2(30.0 / 1200.0));
        play(
            strings, note, asked(g7, d4), [](int) { return 2e-4 * std::exp2(-30.0 / 600.0); }, sharp);
    }
    CHECK(*strings.at(g7) / (2e-4) == doctest::Approx(1.0));
}

TEST_CASE("a release, which starts on the bent note, tells nothing of it") {
    StringStiffness strings{{}};
    for (int note = 0; note < 3; ++note)
        play(strings, note, {Gesture::release, MidiPitch(64.0), d4, g7, std::nullopt},
             [](int) { return 2e-4 * std::exp2(-4.0 / 12.0); });
    CHECK_FALSE(strings.at(g7).has_value());
}

TEST_CASE("unsure, noisy, foreign and short notes never change what is known") {
    const std::vector<double> known{0.0, 0.0, 9e-5};
    std::mt19937 random(5);
    std::normal_distribution<double> gauss;
    StringStiffness strings{{.known = known}};
    double now = 0.0;
    for (int round = 0; round < 50; ++round) {
        const auto wild = [&](int) { return 3e-4 * std::exp(0.5 * gauss(random)); };
        const auto off = [](int) { return 6e-4; };
        // with gain, B is not the string's
        play(strings, now += 1.0, asked(g7, d4), wild);
        PitchFrame unsure;
        unsure.sd = Cents(4.0);
        play(strings, now += 1.0, asked(g7, d4), off, unsure);
        PitchFrame blind;
        blind.inharmonicitySd = 2e-4;
        play(strings, now += 1.0, asked(g7, d4), off, blind);
        PitchFrame two;
        two.otherNote = Decibels(-12.0);
        play(strings, now += 1.0, asked(g7, d4), off, two);
        PitchFrame elsewhere;
        elsewhere.pitch = frequencyOf(MidiPitch(63.0));
        play(strings, now += 1.0, asked(g7, d4), off, elsewhere);
        play(strings, now += 1.0, asked(g7, d4), [](int i) { return i < 35 ? 6e-4 : std::nan(""); });
        play(strings, now += 1.0, asked(g7, d4), [](int) { return 5e-3; });  // no string's
        Move nowhere = asked(g7, d4);
        nowhere.place.reset();
        play(strings, now += 1.0, nowhere, off);
        CHECK(strings.openStrings() == known);
    }
    // Notes that are clear each and agree with none of the others.
    for (int note = 0; note < 9; ++note)
        play(strings, now += 1.0, asked(g7, d4), [note](int) { return 4e-5 * std::exp2(0.6 * ((note * 4) % 9)); });
    CHECK(strings.openStrings() == known);
}

TEST_CASE("one odd note among the kept value and clear ones moves nothing far; other strings are known after three") {
    StringStiffness strings{{.known = {0.0, 0.0, 2e-4 * std::exp2(-7.0 / 6.0)}}};
    playClear(strings, 4, 2.02e-4);
    playClear(strings, 1, 7e-4, 10.0);
    CHECK(*strings.at(g7) / (2.02e-4) == doctest::Approx(1.0).epsilon(0.02));
    StringStiffness changed{{.known = {0.0, 0.0, 2e-4 * std::exp2(-7.0 / 6.0)}}};
    playClear(changed, 3, 3.1e-4);
    CHECK(*changed.at(g7) / (3.1e-4) == doctest::Approx(1.0));
}

TEST_CASE("a sitting learns the strings it hears, and the next one begins with them") {
    const auto sitting = [](double gain, double noise, std::vector<double> known) {
        SimulatedPlayer::Config config;
        config.skill = exactPlayer();
        config.gain = gain;
        config.noiseFloor = Decibels(noise);
        config.seed = 21;
        SimulatedPlayer player(config);
        const Move move = asked(g7, d4);
        for (int note = 0; note < 5; ++note) {
            player.rest(Seconds(0.8));
            player.play(move, {.played = Played::landed});
        }
        player.rest(Seconds(1.0));
        std::vector<float> samples(static_cast<std::size_t>(player.queued().value * 48000.0));
        player.read(samples);
        Listener listener({.stiffness = std::move(known)});
        listener.setMoves({move}, MoveOrder::everyTry);
        listener.process(samples);
        listener.finish();
        return listener.stiffness();
    };
    const double truth = openStringStiffness(frequencyOf(MidiPitch(55.0)));
    const auto learned = sitting(0.0, -74.0, {});
    REQUIRE(learned.size() == 3);
    CHECK(learned[0] == 0.0);
    CHECK(learned[2] / (truth) == doctest::Approx(1.0).epsilon(0.03));
    // With heavy gain or in heavy noise there is nothing to learn, and nothing is lost.
    for (const auto& after : {sitting(50.0, -74.0, learned), sitting(0.0, -30.0, learned)}) {
        REQUIRE(after.size() == 3);
        CHECK(after[2] / (truth) == doctest::Approx(1.0).epsilon(0.1));
    }
}

// Each pair stands a little on either side of one of its borders.
TEST_CASE(
    "a clear note's frames are sure to a tenth, to 2 cents, and alone by 20 dB, from 0.08 s on; they spread by a "
    "quarter") {
    const auto learns = [](auto change, auto stiffness) {
        StringStiffness strings{{}};
        for (int note = 0; note < 3; ++note) {
            PitchFrame like;
            change(like);
            play(strings, note, asked(g7, d4), stiffness, like);
        }
        return strings.at(g7).has_value();
    };
    const auto steady = [](int) { return 2e-4; };
    const auto as = [](PitchFrame&) {};
    CHECK(learns([](PitchFrame& f) { f.inharmonicitySd = 0.08 * 2e-4; }, steady));
    CHECK_FALSE(learns([](PitchFrame& f) { f.inharmonicitySd = 0.13 * 2e-4; }, steady));
    CHECK(learns([](PitchFrame& f) { f.sd = Cents(1.6); }, steady));
    CHECK_FALSE(learns([](PitchFrame& f) { f.sd = Cents(2.6); }, steady));
    CHECK(learns([](PitchFrame& f) { f.otherNote = Decibels(-24.0); }, steady));
    CHECK_FALSE(learns([](PitchFrame& f) { f.otherNote = Decibels(-16.0); }, steady));
    // 24 of the sure frames lie past 0.08 s, or 26.
    CHECK_FALSE(learns(as, [](int i) { return i < 40 ? 2e-4 : std::nan(""); }));
    CHECK(learns(as, [](int i) { return i < 42 ? 2e-4 : std::nan(""); }));
    CHECK(learns(as, [](int i) { return i % 2 == 0 ? 2e-4 : 2.4e-4; }));
    CHECK_FALSE(learns(as, [](int i) { return i % 2 == 0 ? 2e-4 : 2.7e-4; }));
    // No string of a guitar has less than 1e-6 on its open length, nor more than 2e-3.
    const double open = std::exp2(7.0 / 6.0);
    CHECK(learns(as, [open](int) { return 1.3e-6 * open; }));
    CHECK_FALSE(learns(as, [open](int) { return 0.8e-6 * open; }));
    CHECK(learns(as, [open](int) { return 1.6e-3 * open; }));
    CHECK_FALSE(learns(as, [open](int) { return 2.6e-3 * open; }));
}

TEST_CASE("frames are kept for 15 s, for a try that is told late") {
    const auto learns = [](double late) {
        StringStiffness strings{{}};
        for (int note = 0; note < 3; ++note) {
            const double begin = 100.0 * note;
            for (int i = 0; i < 100; ++i) {
                PitchFrame frame;
                frame.centre = frame.available = Seconds(begin + 0.005 * i);
                frame.pitch = frequencyOf(d4);
                frame.inharmonicity = 2e-4;
                frame.inharmonicitySd = 4e-6;
                strings.settled(frame);
            }
            PitchFrame silent;
            silent.centre = silent.available = Seconds(begin + late);
            strings.settled(silent);
            Landing landing;
            landing.move = asked(g7, d4);
            landing.verdict = Verdict::inTune;
            landing.onset = Seconds(begin);
            landing.end = Seconds(begin + 0.5);
            strings.tryEnded(landing);
        }
        return strings.at(g7).has_value();
    };
    CHECK(learns(14.0));
    CHECK_FALSE(learns(17.0));
}

TEST_CASE("notes agree within 15 %, and the last nine count") {
    const auto learns = [](double apart) {
        StringStiffness strings{{}};
        playClear(strings, 1, 2e-4 * (1.0 - apart));
        playClear(strings, 1, 2e-4, 10.0);
        playClear(strings, 1, 2e-4 * (1.0 + apart), 20.0);
        return strings.at(g7).has_value();
    };
    CHECK(learns(0.12));
    CHECK_FALSE(learns(0.20));
    // After five of one and so many of another, of nine the other has the middle with five.
    const auto after = [](int others) {
        StringStiffness strings{{}};
        playClear(strings, 9, 2e-4);
        playClear(strings, others, 2.1e-4, 20.0);
        return *strings.at(g7);
    };
    CHECK(after(4) / (2e-4) == doctest::Approx(1.0));
    CHECK(after(5) / (2.1e-4) == doctest::Approx(1.0));
}
