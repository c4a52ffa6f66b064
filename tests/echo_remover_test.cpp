// A delay known by its repeats, against the dry string that it was made of.
#include <doctest/doctest.h>

#include <cmath>
#include <limits>
#include <random>
#include <vector>

#include "dsp/echo_remover.h"
#include "tests/support/allocation_guard.h"
#include "tests/support/string_sound.h"

using namespace landfall;

namespace {

constexpr double rate = 16000.0;
constexpr double struckAt = 0.2;

// Bends a whole step between 0.35 and 0.5 s after the stroke, which begins with a click of noise.
std::vector<float> bend(double cents = 200.0) {
    StringSound sound;
    sound.sampleRate = rate;
    sound.silence = struckAt;
    sound.seconds = 1.8;
    sound.noise = 1e-5;
    auto samples = stringSound(
        sound, [&](double t) { return 220.0 * std::exp2(cents / 1200.0 * std::clamp((t - 0.35) / 0.15, 0.0, 1.0)); });
    std::mt19937 random(5);
    std::normal_distribution<float> gauss(0.0f, 0.05f);
    const auto first = static_cast<std::size_t>(struckAt * rate);
    for (std::size_t n = 0; n < 160; ++n)
        samples[first + n] += gauss(random) * std::exp(-static_cast<float>(n) / 40.0f);
    return samples;
}

// A delay line with feedback, as in every pedal; whole samples.
std::vector<float> through(const std::vector<float>& dry, std::size_t delay, float gain, float feedback) {
    std::vector<float> line(dry), heard(dry);
    for (std::size_t n = delay; n < dry.size(); ++n) {
        line[n] = dry[n] + feedback * line[n - delay];
        heard[n] = dry[n] + gain * line[n - delay];
    }
    return heard;
}

struct Removed {
    std::vector<float> samples;
    double begunAt = 0.0;  // s; 0: never
};

Removed remove(EchoRemover& remover, const std::vector<float>& heard) {
    Removed out;
    const auto stroke = static_cast<std::size_t>(struckAt * rate);
    for (std::size_t n = 0; n < heard.size(); ++n) {
        out.samples.push_back(remover.push(heard[n]));
        if (n == stroke + 80) remover.struck(stroke);
        if (remover.begun()) out.begunAt = static_cast<double>(n) / rate;
    }
    return out;
}

// dB of what differs from the dry string from `from` s on, under that string.
double under(const std::vector<float>& a, const std::vector<float>& dry, double from) {
    double power = 0.0, off = 0.0;
    for (auto n = static_cast<std::size_t>(from * rate); n < dry.size(); ++n) {
        power += std::pow(static_cast<double>(dry[n]), 2.0);
        off += std::pow(static_cast<double>(a[n]) - static_cast<double>(dry[n]), 2.0);
    }
    return 10.0 * std::log10(power / off);
}

}  // namespace

TEST_CASE("An echo is taken out once the string has left the pitch that it repeats") {
    const auto dry = bend();
    for (const std::size_t delay : {4000u, 5601u, 7203u}) {
        CAPTURE(delay);
        EchoRemover remover({rate});
        const auto heard = through(dry, delay, 0.4f, 0.3f);
        const Removed removed = remove(remover, heard);
        REQUIRE(removed.begunAt > struckAt + static_cast<double>(delay) / rate);
        CHECK(removed.begunAt < struckAt + std::max(0.45, static_cast<double>(delay) / rate) + 0.25);
        CHECK(under(heard, dry, 1.4) < 10.0);
        CHECK(under(removed.samples, dry, 1.4) > 25.0);
    }
}

TEST_CASE("Nothing is taken out of a dry string, nor of one that keeps its pitch, bit for bit") {
    for (const auto& heard : {bend(), through(bend(0.0), 5601, 0.4f, 0.3f)}) {
        EchoRemover remover({rate});
        const Removed removed = remove(remover, heard);
        CHECK(removed.begunAt == 0.0);
        CHECK(removed.samples == heard);
    }
}

TEST_CASE("An echo that is switched off is forgotten") {
    const auto dry = bend();
    auto heard = through(dry, 4000, 0.4f, 0.3f);
    const auto off = static_cast<std::size_t>(0.82 * rate);
    std::copy(dry.begin() + static_cast<std::ptrdiff_t>(off), dry.end(),
              heard.begin() + static_cast<std::ptrdiff_t>(off));
    EchoRemover remover({rate});
    const Removed removed = remove(remover, heard);
    REQUIRE(removed.begunAt > 0.0);
    REQUIRE(removed.begunAt < 0.8);
    for (auto n = static_cast<std::size_t>(1.1 * rate); n < dry.size(); ++n)
        if (removed.samples[n] != dry[n]) FAIL("still taken out at ", static_cast<double>(n) / rate);
}

TEST_CASE("The echo remover allocates nothing, starts afresh and takes any sample") {
    const auto heard = through(bend(), 5601, 0.4f, 0.3f);
    EchoRemover remover({rate});
    const Removed once = remove(remover, heard);
    REQUIRE(once.begunAt > 0.0);
    remover.reset();
    CHECK(remove(remover, heard).samples == once.samples);
    remover.reset();
    const test::AllocationGuard guard;
    remover.struck(100);
    for (const float sample : heard) remover.push(sample);
    for (int n = 0; n < 48000; ++n) remover.push(n % 50 == 0 ? 1.0f : 0.0f);
    for (int n = 0; n < 48000; ++n) remover.push(0.0f);
    CHECK(guard.allocations() == 0);
}
