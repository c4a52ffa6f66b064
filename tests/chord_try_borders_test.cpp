// Which strokes of several strings are tries, and when one is over: sounds that lie on both sides of each border.
#include "src/practice/chord_try.h"

#include <algorithm>
#include <cmath>
#include <functional>
#include <vector>

#include <doctest/doctest.h>

#include "src/music/chord_move.h"
#include "src/practice/listener.h"
#include "tests/support/string_sound.h"
#include "tests/support/summed.h"

using namespace landfall;

namespace {

constexpr double rate = 48000.0, stroke = 0.4;

std::vector<float> string(const std::function<double(double)>& midi, double seconds, double amplitude = 0.1,
                          double at = stroke) {
    return stringSound(
        {.sampleRate = rate, .seconds = seconds, .silence = at, .decay = 4.0, .amplitude = amplitude, .partials = 14},
        [&](double t) { return frequencyOf(MidiPitch(midi(t))).value; });
}
std::vector<float> string(double midi, double seconds, double amplitude = 0.1, double at = stroke) {
    return string([midi](double) { return midi; }, seconds, amplitude, at);
}

// From a moment on (s after the stroke) the level falls by so much (dB), at a rate (dB/s).
std::vector<float> falling(std::vector<float> sound, double from, double by, double aSecond, double at = stroke) {
    for (std::size_t n = 0; n < sound.size(); ++n) {
        const double since = static_cast<double>(n) / rate - at - from;
        if (since > 0.0) sound[n] *= static_cast<float>(std::pow(10.0, -std::min(by, since * aSecond) / 20.0));
    }
    return sound;
}

std::vector<float> afterwards(std::vector<float> first, double until, const std::vector<float>& then) {
    first.resize(static_cast<std::size_t>(until * rate));
    first.insert(first.end(), then.begin(), then.end());
    return first;
}

struct Said {
    std::vector<TryBegan> began;
    std::vector<TryEnded> ended;
    std::vector<Noodling> noodling;
    std::vector<LiveStrings> live;
};

Said hear(const std::vector<float>& sound, std::initializer_list<const char*> asked, Target target = Target::concert) {
    std::vector<Move> moves;
    for (const char* each : asked) moves.push_back(*parseChordMove(each));
    Listener listener({.sampleRate = rate, .target = target, .aim = Cents(10.0)});
    listener.setMoves(moves, MoveOrder::everyTry);
    Said said;
    const auto take = [&](std::span<const ListenerEvent> events) {
        for (const ListenerEvent& event : events) {
            if (const auto* one = std::get_if<TryBegan>(&event)) said.began.push_back(*one);
            if (const auto* one = std::get_if<TryEnded>(&event)) said.ended.push_back(*one);
            if (const auto* one = std::get_if<Noodling>(&event)) said.noodling.push_back(*one);
            if (const auto* one = std::get_if<LiveStrings>(&event)) said.live.push_back(*one);
        }
    };
    take(listener.process(sound));
    take(listener.finish());
    return said;
}

// D4 and B4, struck together.
std::vector<float> sixth(double seconds) { return summed({string(62.0, seconds), string(71.0, seconds)}); }

}  // namespace

TEST_CASE("a stroke is a try where the notes asked leave a third of the power at most") {
    const auto tries = [](double share) {
        const double amplitude = 0.1 * std::sqrt(2.0 * share / (1.0 - share));
        return hear(summed({sixth(1.0), string(66.5, 1.0, amplitude)}), {"note:D4+B4"}).began.size();
    };
    CHECK(tries(0.28) == 1);
    CHECK(tries(0.45) == 0);
}

TEST_CASE("strings struck a twenty-fifth of a second apart are one stroke") {
    const auto begins = [](double apart) {
        const Said said =
            hear(summed({string(62.0, 1.2), string(71.0, 1.2 - apart, 0.2, stroke + apart)}), {"note:D4+B4"});
        REQUIRE(said.began.size() == 1);
        return said.began[0].onset.value - stroke;
    };
    CHECK(begins(0.034) < 0.015);
    CHECK(begins(0.052) > 0.040);
}

TEST_CASE("the strings are damped where they fall by 15 dB within 0.15 s, and gone 45 dB under their loudest") {
    const auto over = [](double from, double by, double aSecond) {
        const Said said = hear(falling(sixth(2.5), from, by, aSecond), {"note:D4+B4"});
        REQUIRE(said.ended.size() == 1);
        return said.ended[0].landing.end.value - stroke;
    };
    CHECK(over(1.0, 18.5, 1000.0) == doctest::Approx(1.0).epsilon(0.1));
    CHECK(over(1.0, 12.0, 1000.0) > 2.3);
    CHECK(over(1.0, 24.0, 80.0) > 2.3);
    CHECK(over(0.7, 80.0, 50.0) == doctest::Approx(1.5).epsilon(0.1));
}

TEST_CASE("a stroke of other notes is told half a second later, where nothing else was struck and they still ring") {
    const auto told = [](double second, double falls) {
        const auto sound =
            summed({falling(string(65.5, 1.6), 0.25, falls, 1000.0), string(67.5, 0.7, 0.4, stroke + second)});
        const Said said = hear(sound, {"note:D4+B4"});
        CHECK(said.began.empty());
        return !said.noodling.empty() && !said.noodling.front().sentence.empty();
    };
    CHECK(told(0.62, 0.0));
    CHECK_FALSE(told(0.36, 0.0));
    CHECK(told(0.62, 11.5));
    CHECK_FALSE(told(0.62, 18.5));
}

TEST_CASE("one string that rings half a fret beside its note, the other one silent, was not meant") {
    const auto began = [](double midi) { return hear(string(midi, 1.0), {"note:D4+B4"}).began.size(); };
    CHECK(began(62.4) == 1);
    CHECK(began(62.6) == 0);
}

TEST_CASE("a faint string is drawn from a four hundredth of the power on") {
    const auto drawn = [](double amplitude) {
        const Said said = hear(summed({string(62.0, 1.0), string(71.0, 1.0, amplitude)}), {"note:D4+B4"});
        return std::ranges::count_if(said.live, [](const LiveStrings& live) { return live.fromTarget[1].has_value(); })
               > static_cast<std::ptrdiff_t>(said.live.size() / 2);
    };
    CHECK(drawn(0.1 * 0.056));
    CHECK_FALSE(drawn(0.1 * 0.041));
}

TEST_CASE("a move that went half a fret and back was tried, one that went less was not") {
    const auto ended = [](double cents) {
        const auto bent = [cents](double t) {
            return 62.0 + cents / 100.0 * std::max(0.0, 1.0 - std::abs(t - 0.7) / 0.2);
        };
        return hear(summed({string(bent, 1.5), string(67.0, 1.5)}), {"bend:D4+G4:E4+G4"}).ended.size();
    };
    CHECK(ended(58.0) == 1);
    CHECK(ended(42.0) == 0);
}

TEST_CASE("a try's next step may be struck six seconds later, and a stroke of a third of a second is none") {
    const auto bent = [](double t) { return 62.0 + 2.0 * std::clamp((t - 0.4) / 0.1, 0.0, 1.0); };
    const auto first = summed({string(bent, 1.2), string(67.0, 1.2)});
    const auto second = [&](double pause) {
        const Said said = hear(afterwards(falling(first, 1.1, 80.0, 4000.0), stroke + 1.2 + pause - stroke, sixth(1.0)),
                               {"bend:D4+G4:E4+G4", "note:D4+B4"});
        REQUIRE(said.ended.size() >= 1);
        return said.ended.size();
    };
    CHECK(second(5.2) == 2);
    CHECK(second(7.0) == 1);
    const auto lasts = [](double seconds) {
        return hear(afterwards(falling(sixth(1.0), seconds, 90.0, 4000.0), 1.6, {}), {"note:D4+B4"}).ended.size();
    };
    CHECK(lasts(0.42) == 1);
    CHECK(lasts(0.28) == 0);
}

TEST_CASE(
    "strings held where they are to land are learned from 0.2 to 0.6 s, where they sound and stay within 8 cents") {
    const auto target = [](double drift, double from, double until) {
        const auto held = [&](double midi) {
            return string([=](double t) { return midi + 0.05 + drift / 100.0 * std::clamp((t - 0.2) / 0.4, 0.0, 1.0); },
                          1.2);
        };
        auto high = held(72.0);
        for (std::size_t n = 0; n < high.size(); ++n) {
            const double t = static_cast<double>(n) / rate - stroke;
            if (t > until || (t > 0.19 && t < from)) high[n] *= 0.01f;
        }
        const auto slid = [](double there, double then) {
            return string([=](double t) { return t < 0.5 ? there : then; }, 1.5);
        };
        const auto shape = falling(summed({held(64.0), high}), 1.0, 90.0, 4000.0);
        const Said said = hear(afterwards(shape, 2.2, summed({slid(62.0, 64.05), slid(71.0, 72.05)})),
                               {"slide:D4+B4:E4+C5"}, Target::ownGuitar);
        REQUIRE(said.ended.size() == 1);
        return said.ended[0].landing.target;
    };
    CHECK(target(6.0, 0.0, 2.0) == Target::ownGuitar);
    CHECK(target(11.0, 0.0, 2.0) == Target::concert);
    CHECK(target(0.0, 0.0, 0.54) == Target::ownGuitar);
    CHECK(target(0.0, 0.0, 0.40) == Target::concert);
}
