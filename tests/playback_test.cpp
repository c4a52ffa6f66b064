#include "src/audio/playback.h"

#include <doctest/doctest.h>

#include <cmath>
#include <limits>
#include <numbers>

using namespace landfall;

namespace {

std::shared_ptr<std::vector<float>> sine(double hertz, double rate, double seconds, double peak) {
    auto samples = std::make_shared<std::vector<float>>(static_cast<std::size_t>(rate * seconds));
    for (std::size_t i = 0; i < samples->size(); ++i)
        (*samples)[i] =
            static_cast<float>(peak * std::sin(2.0 * std::numbers::pi * hertz * static_cast<double>(i) / rate));
    return samples;
}

double peakOf(std::span<const float> block) {
    double peak = 0.0;
    for (const float sample : block) peak = std::max(peak, std::abs(static_cast<double>(sample)));
    return peak;
}

// Upward crossings of zero a second.
double crossings(std::span<const float> block, double rate) {
    int count = 0;
    for (std::size_t i = 1; i < block.size(); ++i) count += block[i - 1] < 0.0f && block[i] >= 0.0f ? 1 : 0;
    return count / (static_cast<double>(block.size()) / rate);
}

}  // namespace

TEST_CASE("a quiet take is heard at the level that was set, begins and ends softly, and ends") {
    Playback playback(48000.0);
    playback.play(sine(440.0, 48000.0, 0.5, 0.01), 48000.0, Decibels(-20.0));
    CHECK(playback.playing());
    std::vector<float> out(48000);
    playback.add(out);
    CHECK_FALSE(playback.playing());
    CHECK(peakOf(out) == doctest::Approx(0.1).epsilon(0.01));  // -20 dB
    // Of the first two milliseconds of ten that it takes to come up, and of the last two.
    CHECK(peakOf(std::span(out).first(96)) < 0.021);
    CHECK(peakOf(std::span(out).subspan(24000 - 96, 96)) < 0.021);
    CHECK(peakOf(std::span(out).subspan(24000)) == 0.0);
}

TEST_CASE("a take of another rate keeps its pitch and its length") {
    for (const double recorded : {44100.0, 96000.0}) {
        Playback playback(48000.0);
        playback.play(sine(440.0, recorded, 1.0, 0.5), recorded, Decibels(-6.0));
        std::vector<float> out(96000);
        playback.add(out);
        CHECK(crossings(std::span(out).first(48000), 48000.0) == doctest::Approx(440.0).epsilon(0.01));
        CHECK(peakOf(std::span(out).subspan(48010)) == 0.0);
    }
}

TEST_CASE("what is played is added to what sounds already, in blocks of any size, and stops when told") {
    std::vector<float> whole(4800, 0.25f), cut(4800, 0.25f);
    const auto sound = sine(330.0, 48000.0, 0.2, 0.5);
    Playback one(48000.0), other(48000.0);
    one.play(sound, 48000.0, Decibels(-12.0));
    other.play(sound, 48000.0, Decibels(-12.0));
    one.add(whole);
    for (std::size_t i = 0; i < cut.size(); i += 96) other.add(std::span(cut).subspan(i, 96));
    CHECK(whole == cut);
    CHECK(whole[0] == 0.25f);
    one.stop();
    CHECK_FALSE(one.playing());
    std::vector<float> after(100, 0.25f);
    one.add(after);
    CHECK(after == std::vector<float>(100, 0.25f));
}

TEST_CASE("silence, nothing and what is no number are not played; a level over full scale is full scale") {
    Playback playback(48000.0);
    playback.play(std::make_shared<std::vector<float>>(100, 0.0f), 48000.0, Decibels(-6.0));
    CHECK_FALSE(playback.playing());
    playback.play(nullptr, 48000.0, Decibels(-6.0));
    CHECK_FALSE(playback.playing());
    auto broken = sine(440.0, 48000.0, 0.1, 0.5);
    (*broken)[2000] = std::numeric_limits<float>::quiet_NaN();
    (*broken)[2500] = std::numeric_limits<float>::infinity();
    playback.play(broken, 48000.0, Decibels(40.0));
    std::vector<float> out(4800);
    playback.add(out);
    CHECK(peakOf(out) <= 1.0 + 1e-6);
    for (const float sample : out) CHECK(std::isfinite(sample));
}
