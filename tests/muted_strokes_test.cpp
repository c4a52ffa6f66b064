#include "src/practice/muted_strokes.h"

#include <doctest/doctest.h>

#include <cmath>
#include <random>
#include <vector>

#include "src/practice/listener.h"
#include "tests/support/string_sound.h"
#include "tests/support/students.h"

using namespace landfall;

namespace {

constexpr double rate = 48000.0;

void add(std::vector<float>& to, double at, const std::vector<float>& sound) {
    const auto first = static_cast<std::size_t>(at * rate);
    if (to.size() < first + sound.size()) to.resize(first + sound.size());
    for (std::size_t i = 0; i < sound.size(); ++i) to[first + i] += sound[i];
}

// Damped strings: gone within hundredths of a second, over the noise of the pick.
std::vector<float> muted(unsigned seed, double level = 0.2) {
    std::vector<float> sound = stringSound({.seconds = 0.3, .decay = 0.012, .amplitude = level}, 97.0 + 3.0 * seed);
    std::mt19937 random(seed);
    std::normal_distribution<double> gauss;
    for (std::size_t i = 0; i < sound.size(); ++i)
        sound[i] += static_cast<float>(level * gauss(random) * std::exp(-static_cast<double>(i) / (0.015 * rate)));
    return sound;
}

unsigned pairsIn(std::vector<float> sound) {
    sound.resize(sound.size() + static_cast<std::size_t>(rate));
    std::mt19937 random(5);
    std::normal_distribution<float> gauss(0.0f, 1e-4f);
    for (float& each : sound) each += gauss(random);
    Listener listener({.sampleRate = rate});
    MutedStrokes strokes;
    for (std::size_t at = 0; at < sound.size(); at += 512)
        for (const ListenerEvent& event :
             listener.process(std::span(sound).subspan(at, std::min<std::size_t>(512, sound.size() - at))))
            strokes.hear(event);
    return strokes.pairs();
}

}  // namespace

TEST_CASE("two muted strokes are one sign; one alone, two far apart, or two faint ones are none") {
    for (unsigned seed = 1; seed <= 8; ++seed) {
        CAPTURE(seed);
        std::vector<float> two, alone, apart, faint;
        for (auto* each : {&two, &alone, &apart, &faint}) each->resize(static_cast<std::size_t>(rate));
        add(two, 1.0, muted(seed));
        add(two, 1.5, muted(seed + 1));
        add(alone, 1.0, muted(seed));
        add(apart, 1.0, muted(seed));
        add(apart, 3.5, muted(seed + 1));
        add(faint, 1.0, muted(seed, 0.002));
        add(faint, 1.5, muted(seed + 1, 0.002));
        CHECK(pairsIn(two) == 1);
        CHECK(pairsIn(alone) == 0);
        CHECK(pairsIn(apart) == 0);
        CHECK(pairsIn(faint) == 0);
    }
}

TEST_CASE("notes that ring are no muted strokes, nor is one muted stroke before a note") {
    std::vector<float> sound(static_cast<std::size_t>(rate));
    for (int i = 0; i < 8; ++i)
        add(sound, 1.0 + 0.5 * i, stringSound({.seconds = 0.45, .decay = 0.8, .seed = 7}, 220.0 * std::exp2(i / 12.0)));
    CHECK(pairsIn(sound) == 0);
    std::vector<float> then(static_cast<std::size_t>(rate));
    add(then, 1.0, muted(3));
    add(then, 1.5, stringSound({.seconds = 0.8, .decay = 0.8}, 220.0));
    add(then, 2.5, muted(4));
    CHECK(pairsIn(then) == 0);
}
