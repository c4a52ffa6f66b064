#include "dsp/voice_guard.h"

#include <array>
#include <cmath>

#include <doctest/doctest.h>

using namespace landfall;

namespace {

// Hops of 5 ms; `level(t)` in decibels over the start, the same for all partials.
template <typename Level>
double shareHeardAsVoice(Level level, double seconds, std::size_t note = 1) {
    VoiceGuard guard;
    int voice = 0, all = 0;
    for (double t = 0.0; t < seconds; t += 0.005, ++all) {
        std::array<float, 6> power;
        for (std::size_t k = 0; k < power.size(); ++k)
            power[k] = static_cast<float>(std::pow(10.0, (level(t) - 30.0 - 6.0 * static_cast<double>(k)) / 10.0));
        guard.hear({note, t, power});
        voice += guard.isVoice();
    }
    return static_cast<double>(voice) / all;
}

}  // namespace

TEST_CASE("a sound that only decays is a string, however fast") {
    for (double decibelsPerSecond : {0.0, 10.0, 60.0, 300.0}) CHECK(shareHeardAsVoice([=](double t) { return -decibelsPerSecond * t; }, 2.0) == 0.0);
}

TEST_CASE("one rise is a string's: a soft stroke that was not heard as one") {
    CHECK(shareHeardAsVoice([](double t) { return (t > 1.0 ? 15.0 * std::min(1.0, (t - 1.0) / 0.08) : 0.0) - 8.0 * t; }, 2.0) == 0.0);
}

TEST_CASE("a beat of 2 dB is a string's") {
    CHECK(shareHeardAsVoice([](double t) { return std::sin(2.0 * 3.14159265 * 4.0 * t); }, 2.0) == 0.0);
}

TEST_CASE("what swells and fades with every syllable is a voice after half a second, and a string again after a steady quarter") {
    // Syllables come about five times a second (Greenberg, Speaking in shorthand, Speech Communication 29, 1999: 200 ms on average).
    CHECK(shareHeardAsVoice([](double t) { return 12.0 * std::sin(2.0 * 3.14159265 * 5.0 * t); }, 4.0) > 0.8);
    VoiceGuard guard;
    double t = 0.0;
    const auto hear = [&guard, &t](double level) {
        const std::array<float, 3> power{static_cast<float>(std::pow(10.0, level / 10.0)), 1e-4f, 1e-5f};
        guard.hear({1, t += 0.005, power});
    };
    for (int i = 0; i < 400; ++i) hear(-20.0 + 12.0 * std::sin(2.0 * 3.14159265 * 5.0 * t));
    CHECK(guard.isVoice());
    for (int i = 0; i < 60; ++i) hear(-20.0 - 10.0 * 0.005 * i);
    CHECK_FALSE(guard.isVoice());
}
