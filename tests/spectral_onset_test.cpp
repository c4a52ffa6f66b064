#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <vector>

#include "dsp/pitch_tracker.h"
#include "dsp/spectral_onset.h"
#include "tests/support/allocation_guard.h"
#include "tests/support/string_sound.h"

using namespace landfall;

namespace {

constexpr double rate = 16000.0;

std::vector<double> risesIn(const std::vector<float>& sound, double least = 0.1) {
    SpectralOnset onset({rate});
    std::vector<double> times;
    for (const float sample : sound)
        if (const auto rise = onset.push(sample); rise && rise->strength >= least)
            times.push_back(static_cast<double>(rise->sample) / rate);
    return times;
}

std::vector<float> sum(std::vector<float> a, const std::vector<float>& b) {
    for (std::size_t i = 0; i < std::min(a.size(), b.size()); ++i) a[i] += b[i];
    return a;
}

StringSound note(double silence, double amplitude = 0.2) {
    StringSound sound;
    sound.sampleRate = rate;
    sound.seconds = 2.0 - silence;
    sound.silence = silence;
    sound.amplitude = amplitude;
    return sound;
}

}  // namespace

TEST_CASE("a stroke is heard while another string rings on as loudly, where it was struck") {
    const auto sound = sum(stringSound(note(0.3), 196.0), stringSound(note(0.9), 246.94));
    const auto rises = risesIn(sound);
    REQUIRE(rises.size() == 2);
    CHECK(std::abs(rises[0] - 0.3) < 0.006);
    CHECK(std::abs(rises[1] - 0.9) < 0.006);
}

TEST_CASE("a ringing string, its bend and its vibrato rise nowhere; nor does silence, nor hum") {
    const double turn = 2.0 * 3.14159265358979;
    for (const double hertz : {82.41, 196.0, 659.26}) {
        CAPTURE(hertz);
        CHECK(risesIn(stringSound(note(0.3), hertz)).size() == 1);
        CHECK(
            risesIn(stringSound(note(0.3), [&](double t) { return hertz * std::exp2(std::min(t, 0.4) / 2.4); })).size()
            == 1);
        CHECK(risesIn(
                  stringSound(note(0.3), [&](double t) { return hertz * std::exp2(0.03 * std::sin(turn * 6.0 * t)); }))
                  .size()
              == 1);
    }
    CHECK(risesIn(std::vector<float>(32000, 0.0f)).empty());
    std::vector<float> hum(32000);
    for (std::size_t i = 0; i < hum.size(); ++i)
        hum[i] = static_cast<float>(0.01 * std::sin(turn * 50.0 * static_cast<double>(i) / rate));
    CHECK(risesIn({hum.begin() + 8000, hum.end()}).size() <= 1);  // its beginning
}

TEST_CASE("how loud it is changes nothing, and after a reset it is as freshly made") {
    const auto sound = sum(stringSound(note(0.3), 196.0), stringSound(note(0.9, 0.1), 246.94));
    auto quiet = sound;
    for (float& sample : quiet) sample *= 0.5f;
    const auto rises = risesIn(sound);
    CHECK(risesIn(quiet) == rises);
    SpectralOnset onset({rate});
    for (int round = 0; round < 2; ++round) {
        std::vector<double> again;
        for (const float sample : sound)
            if (const auto rise = onset.push(sample)) again.push_back(static_cast<double>(rise->sample) / rate);
        CHECK(again == rises);
        onset.reset();
    }
}

TEST_CASE("no sample allocates") {
    const auto sound = stringSound(note(0.3), 196.0);
    SpectralOnset onset({rate});
    const test::AllocationGuard guard;
    for (const float sample : sound) onset.push(sample);
    if (test::AllocationGuard::watching()) CHECK(guard.allocations() == 0);
}

TEST_CASE("a tracker of connected notes cuts its windows where one goes over into the next") {
    // G3 into A3 without a gap, as loud: until the second note's stroke is known, its first frames hold both.
    StringSound first = note(0.3), second = note(0.9);
    first.sampleRate = second.sampleRate = 48000.0;
    auto sound = stringSound(first, 196.0);
    const auto next = stringSound(second, 220.0);
    for (std::size_t i = static_cast<std::size_t>(0.9 * 48000.0); i < sound.size(); ++i) sound[i] = next[i];
    const auto strokes = [&](bool connected) {
        PitchTracker tracker({.sampleRate = 48000.0, .connected = connected});
        std::vector<double> times;
        for (std::size_t at = 0; at < sound.size(); at += 256)
            for (const Onset& onset :
                 tracker.process(std::span(sound).subspan(at, std::min<std::size_t>(256, sound.size() - at))).onsets)
                times.push_back(onset.time.value);
        return times;
    };
    CHECK(strokes(false).size() == 1);
    REQUIRE(strokes(true).size() == 2);
    CHECK(std::abs(strokes(true)[1] - 0.9) < 0.008);
}
