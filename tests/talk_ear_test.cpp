#include "src/practice/talk_ear.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <random>

#include <doctest/doctest.h>

#include "src/practice/line_listener.h"
#include "tests/support/string_sound.h"

using namespace landfall;

namespace {

constexpr double frame = 0.005;  // s

// Frames, each with its pitch or none, and whether a stroke fell into it.
struct Track {
    std::vector<std::optional<double>> cents;
    std::vector<bool> struck;

    // `pitch(t)`, struck at its beginning.
    template <class Pitch>
    void note(double seconds, const Pitch& pitch, bool stroke = true) {
        for (int i = 0; i * frame < seconds; ++i) {
            cents.emplace_back(pitch(i * frame));
            struck.push_back(stroke && i == 0);
        }
    }
    void gap(double seconds) {
        for (int i = 0; i * frame < seconds; ++i) {
            cents.emplace_back();
            struck.push_back(false);
        }
    }
    // Syllables: .2 s, each falling by three half steps, a pause after every sixth.
    void talk(double seconds) {
        for (int i = 0; i * 0.25 < seconds; ++i) {
            note(0.2, [i](double t) { return 5000.0 + 70.0 * (i % 4) - 1500.0 * t; });
            gap(i % 6 == 5 ? 0.4 : 0.05);
        }
    }
};

// Of each frame: it turned out to be talk.
std::vector<bool> talkOf(const Track& track) {
    TalkEar ear;
    std::vector<bool> talk(track.cents.size());
    const auto take = [&](std::span<const std::size_t> ago, std::size_t last) {
        CHECK(std::ranges::is_sorted(ago, std::greater{}));
        for (const std::size_t each : ago) talk[last - each] = true;
    };
    for (std::size_t i = 0; i < track.cents.size(); ++i) take(ear.hear(track.cents[i], track.struck[i]), i);
    take(ear.finish(), track.cents.size() - 1);
    return talk;
}

Line oneNote() {
    Line line;
    line.moves.emplace_back();
    line.moves.back().move.gesture = Gesture::note;
    line.moves.back().move.from = line.moves.back().move.to = MidiPitch(64);
    line.length = 1.0;
    line.barBegins = {0.0};
    return line;
}

}  // namespace

TEST_CASE("what glides without ever standing is talk, from its first syllable on") {
    Track track;
    track.gap(1.0);
    track.talk(8.0);
    track.gap(2.0);
    const std::vector<bool> talk = talkOf(track);
    for (std::size_t i = 0; i < talk.size(); ++i)
        if (track.cents[i]) CHECK(talk[i]);
}

TEST_CASE("a note that stands for a quarter of a second amid talk is kept, its stroke with it") {
    Track track;
    track.talk(4.0);
    const std::size_t begin = track.cents.size();
    track.note(0.25, [](double) { return 6000.0; });
    const std::size_t end = track.cents.size();
    track.talk(4.0);
    const std::vector<bool> talk = talkOf(track);
    CHECK(std::none_of(talk.begin() + static_cast<std::ptrdiff_t>(begin),
                       talk.begin() + static_cast<std::ptrdiff_t>(end), [](bool each) { return each; }));
    CHECK(talk[begin - 100]);
    CHECK(talk[end + 100]);
}

TEST_CASE("playing right after talk, bends among it, is kept") {
    Track track;
    track.talk(6.0);
    track.gap(0.3);
    const std::size_t begin = track.cents.size();
    for (int i = 0; i < 8; ++i)
        track.note(0.6, [](double t) { return 6000.0 + 200.0 * std::clamp((t - 0.1) / 0.15, 0.0, 1.0); });
    const std::vector<bool> talk = talkOf(track);
    CHECK(std::none_of(talk.begin() + static_cast<std::ptrdiff_t>(begin), talk.end(), [](bool each) { return each; }));
}

TEST_CASE("notes shaken widely, a second each, short bends and slides without a hold are no talk") {
    Track shaken, gliding;
    for (int i = 0; i < 12; ++i) {
        shaken.note(0.98, [](double t) { return 6000.0 + 80.0 * std::sin(2.0 * std::numbers::pi * 5.5 * t); });
        shaken.gap(0.02);
        // As many a second as talk has syllables need a hold: common practice is one.
        gliding.note(0.5, [](double t) { return 6000.0 + 400.0 * std::min(1.0, t / 0.3); });
        gliding.gap(0.25);
    }
    for (const Track& track : {shaken, gliding}) {
        const std::vector<bool> talk = talkOf(track);
        CHECK(std::none_of(talk.begin(), talk.end(), [](bool each) { return each; }));
    }
}

TEST_CASE("talk is told by its share that stands, of half a second with a pitch at least") {
    const auto told = [](const Track& track) {
        const std::vector<bool> talk = talkOf(track);
        return std::ranges::count(talk, true) > 0;
    };
    const auto glides = [](double t) { return 5000.0 - 1500.0 * t; };
    const auto stands = [](double) { return 5000.0; };
    // Syllables and rests: of three seconds a pitch in 90 frames, in 120.
    for (const double syllable : {0.045, 0.06}) {
        Track track;
        for (int i = 0; i < 20; ++i) {
            track.note(syllable, glides);
            track.gap(0.3 - syllable);
        }
        CHECK(told(track) == (syllable > 0.05));
    }
    // Of each note the last part stands, too short a time to be kept for that alone.
    const auto partly = [&](double moves, double standing) {
        Track track;
        for (int i = 0; i < 20; ++i) {
            track.note(moves, glides);
            track.note(standing, stands, false);
            track.gap(0.05);
        }
        return track;
    };
    CHECK(told(partly(0.16, 0.08)));
    CHECK_FALSE(told(partly(0.10, 0.10)));
    // A short note stands in 60 ms, not in 50.
    CHECK(told(partly(0.02, 0.05)));
    CHECK_FALSE(told(partly(0.02, 0.075)));
    // Within 20 cents.
    const auto slowly = [&](double centsASecond) {
        Track track;
        for (int i = 0; i < 20; ++i) {
            track.note(0.2, [&](double t) { return 5000.0 - centsASecond * t; });
            track.gap(0.05);
        }
        return track;
    };
    CHECK_FALSE(told(slowly(300.0)));
    CHECK(told(slowly(450.0)));
}

TEST_CASE("of voices no extra stroke is told") {
    const Line line = oneNote();
    for (const Speaker& speaker : speakers()) {
        std::vector<float> sound = speech(speaker, 20.0);
        std::mt19937 random(3);
        std::normal_distribution<float> hiss(0.0f, 1e-4f);
        for (float& sample : sound) sample += hiss(random);
        LineListener listener(line, 48000.0, standardA4);
        listener.process(sound);
        listener.finish();
        CHECK(listener.marks().extra.empty());
    }
}
