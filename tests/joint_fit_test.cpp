#include "dsp/joint_fit.h"

#include <array>
#include <cmath>
#include <limits>
#include <numbers>
#include <vector>

#include <doctest/doctest.h>

#include "dsp/partial_fit.h"
#include "tests/support/string_sound.h"
#include "tests/support/summed.h"

using namespace landfall;

namespace {

constexpr double rate = 16000.0;

// Steady strings as the model has them: no decay.
std::vector<float> stringAt(double hertz, double inharmonicity, double amplitude = 0.2, double noise = 0.0,
                            unsigned seed = 1) {
    return stringSound({.sampleRate = rate,
                        .seconds = 0.1,
                        .inharmonicity = inharmonicity,
                        .decay = 1e6,
                        .amplitude = amplitude,
                        .partials = 10,
                        .noise = noise,
                        .seed = seed},
                       hertz);
}

double above(double hertz, double cents) { return hertz * std::exp2(cents / 1200.0); }

JointFit::Result fitted(const std::vector<float>& samples, const std::vector<JointFit::Tone>& start) {
    JointFit fit({.sampleRate = rate, .longestInput = 4000});
    return fit.fit(samples, {.start = start,
                             .moment = 0.5 * static_cast<double>(samples.size() - 1),
                             .partials = 10,
                             .steps = 8,
                             .slopeSd = 500.0,
                             .inharmonicitySd = 0.5});
}

}  // namespace

TEST_CASE("each of several strings is found, also where they share partials") {
    // A third, a fifth, an octave and a twelfth; of several starts the one that leaves the least.
    constexpr double low = 220.0;
    for (const double semitones : {4.0, 7.0, 12.0, 19.0}) {
        const double high = above(low, 100.0 * semitones + 7.0);
        const auto samples = summed({stringAt(low, 8e-5), stringAt(high, 3e-4, 0.12)});
        JointFit::Result best;
        for (const double first : {-12.0, 2.0, 12.0})
            for (const double second : {-12.0, 2.0, 12.0}) {
                const auto result = fitted(
                    samples, {{Hertz(above(low, first)), 0.0, 1e-4, {}}, {Hertz(above(high, second)), 0.0, 2e-4, {}}});
                if (result.usable && result.residual < best.residual) best = result;
            }
        CAPTURE(semitones);
        REQUIRE(best.usable);
        CHECK(std::abs(interval(Hertz(low), best.strings[0].tone.pitch).value) < 0.1);
        CHECK(std::abs(interval(Hertz(high), best.strings[1].tone.pitch).value) < 0.1);
        CHECK(best.residual < 2e-3);
    }
    const auto triad = summed({stringAt(196.0, 8e-5), stringAt(246.9, 1e-4), stringAt(293.7, 2e-4)});
    const auto result =
        fitted(triad, {{Hertz(197.0), 0.0, 1e-4, {}}, {Hertz(246.0), 0.0, 1e-4, {}}, {Hertz(295.0), 0.0, 1e-4, {}}});
    REQUIRE(result.usable);
    for (const auto& [string, hertz] : {std::pair{0, 196.0}, {1, 246.9}, {2, 293.7}})
        CHECK(std::abs(interval(Hertz(hertz), result.strings[static_cast<std::size_t>(string)].tone.pitch).value)
              < 0.1);
}

TEST_CASE("one string alone is fitted as PartialFit does") {
    const auto samples = stringAt(261.6, 1.5e-4, 0.2, 0.002);
    const auto joint = fitted(samples, {{Hertz(263.0), 0.0, 1e-4, {}}});
    PartialFit single({.sampleRate = rate, .longestInput = 2400});
    const auto alone = single.fit(samples, {.start = {Hertz(263.0), 0.0, 1e-4},
                                            .moment = 0.5 * static_cast<double>(samples.size() - 1),
                                            .partials = 10,
                                            .steps = 8,
                                            .slopeSd = 500.0,
                                            .inharmonicitySd = 1e-4});
    REQUIRE((joint.usable && alone.usable));
    CHECK(std::abs(interval(alone.tone.pitch, joint.strings[0].tone.pitch).value) < 0.02);
    CHECK(joint.strings[0].tone.inharmonicity == doctest::Approx(alone.tone.inharmonicity).epsilon(0.05));
}

TEST_CASE("a string that does not sound explains nothing of its own") {
    const auto samples = stringAt(220.0, 8e-5, 0.2, 0.001);
    const auto result = fitted(samples, {{Hertz(220.0), 0.0, 1e-4, {}}, {Hertz(277.2), 0.0, 1e-4, Cents(40.0)}});
    REQUIRE(result.usable);
    CHECK(result.strings[0].own > 0.9);
    CHECK(result.strings[1].own < 0.002);
}

// Amplitude modulation has its definition: a sine times 1 - d cos(2 pi f t) is the sine and two of d / 2 beside it, f away.
TEST_CASE("beside a string that swells another one explains nothing; one that sounds keeps its own") {
    const auto swelling = [](double beats, double depth, double phase) {
        auto samples = stringSound({.sampleRate = rate, .seconds = 0.2, .decay = 1e6, .partials = 10}, 110.0);
        for (std::size_t n = 0; n < samples.size(); ++n)
            samples[n] *= static_cast<float>(
                1.0 - depth * std::cos(2.0 * std::numbers::pi * (beats * static_cast<double>(n) / rate + phase)));
        return samples;
    };
    const auto second = stringSound(
        {.sampleRate = rate, .seconds = 0.2, .decay = 1e6, .amplitude = 0.06, .partials = 10}, above(110.0, 400.0));
    JointFit fit({.sampleRate = rate, .longestInput = 4000});
    double most = 0.0;
    for (const double beats : {3.0, 5.0, 8.0, 10.0})
        for (const double phase : {0.0, 0.2, 0.6}) {
            const auto alone = swelling(beats, 0.9, phase);
            const auto ownOf = [&](const std::vector<float>& samples, double cents) {
                const std::vector<JointFit::Tone> start{{Hertz(110.0), 0.0, 1e-4, {}},
                                                        {Hertz(above(110.0, cents)), 0.0, 1e-4, {}}};
                return fit.fit(samples,
                               {.start = start, .moment = 1600.0, .partials = 12, .steps = 4, .slopeSd = 50.0});
            };
            CAPTURE(beats);
            CAPTURE(phase);
            for (const double cents : {80.0, 100.0, 1150.0}) {
                const auto found = ownOf(alone, cents);
                REQUIRE(found.usable);
                most = std::max(most, found.strings[1].own);
                CHECK(fit.ownBesideSwelling(1, 7) < 0.02);
            }
            const auto both = ownOf(summed({alone, second}), 400.0);
            REQUIRE(both.usable);
            CHECK(fit.ownBesideSwelling(1, 1) == doctest::Approx(both.strings[1].own));
            CHECK(fit.ownBesideSwelling(1, 7) > 0.8 * both.strings[1].own);
        }
    CHECK(most > 0.03);  // where the known one stands, swelling passes for another string
}

TEST_CASE("an octave, a twelfth and two octaves share all partials of the upper string, other intervals few") {
    constexpr double low = 146.8;
    const auto unshared = [&](double semitones) {
        const double high = above(low, 100.0 * semitones);
        return fitted(summed({stringAt(low, 1e-4), stringAt(high, 2e-4)}),
                      {{Hertz(low), 0.0, 1e-4, {}}, {Hertz(high), 0.0, 2e-4, {}}})
            .strings;
    };
    for (const double semitones : {12.0, 19.0, 24.0}) {
        CAPTURE(semitones);
        CHECK(unshared(semitones)[1].unshared < 0.25);  // high partials lie apart by stiffness
        CHECK(unshared(semitones)[0].unshared > 0.7);
    }
    // The fifth's first, third and fifth partials are its own: of 1 + 1/4 + ... + 1/100 = 1.55 that is over 0.74.
    CHECK(unshared(7.0)[1].unshared > 0.74);
    CHECK(unshared(7.0)[1].unshared < 0.85);
    for (const double semitones : {3.0, 4.0, 5.0, 9.0}) CHECK(unshared(semitones)[1].unshared > 0.85);
    CHECK(fitted(stringAt(low, 1e-4), {{Hertz(low), 0.0, 1e-4, {}}}).strings[0].unshared == 1.0);
}

TEST_CASE("nine in ten intervals hold the pitch of strings in noise") {
    int held = 0, all = 0;
    for (unsigned seed = 1; seed <= 60; ++seed) {
        const auto samples = summed({stringAt(220.0, 8e-5, 0.2, 0.006, seed), stringAt(293.7, 2e-4, 0.15)});
        const auto result = fitted(samples, {{Hertz(221.0), 0.0, 1e-4, {}}, {Hertz(293.0), 0.0, 1e-4, {}}});
        REQUIRE(result.usable);
        for (const auto& [string, hertz] : {std::pair{0, 220.0}, {1, 293.7}}) {
            const auto& found = result.strings[static_cast<std::size_t>(string)];
            held += std::abs(interval(Hertz(hertz), found.tone.pitch).value) < 1.645 * found.sd.value;
            ++all;
        }
    }
    CHECK(held >= 0.80 * all);  // 120 trials: 90 % and three standard deviations of their count to either side
    CHECK(held <= 0.98 * all);
}

TEST_CASE("what a fit foretells is what the strings go on to sound like") {
    const auto whole = stringSound({.sampleRate = rate, .seconds = 0.2, .decay = 1e6, .partials = 10}, 220.0);
    const std::vector<float> end(whole.begin() + 1600, whole.end());
    JointFit fit({.sampleRate = rate, .longestInput = 4000});
    const std::vector<JointFit::Tone> start{{Hertz(220.5), 0.0, 1e-4, {}}};
    REQUIRE(fit.fit(end, {.start = start, .moment = 800.0, .partials = 10, .steps = 8}).usable);
    std::array<float, 64> foretold{};
    fit.foretell(-480.0, foretold);
    for (std::size_t n = 0; n < foretold.size(); ++n) CHECK(std::abs(foretold[n] - whole[1120 + n]) < 0.005f);
}

TEST_CASE("silence, what is no number and strings out of range give nothing") {
    const std::vector<JointFit::Tone> start{{Hertz(220.0), 0.0, 1e-4, {}}, {Hertz(330.0), 0.0, 1e-4, {}}};
    CHECK_FALSE(fitted(std::vector<float>(1600, 0.0f), start).usable);
    auto broken = stringAt(220.0, 1e-4);
    broken[700] = std::numeric_limits<float>::quiet_NaN();
    CHECK_FALSE(fitted(broken, start).usable);
    broken[700] = std::numeric_limits<float>::infinity();
    CHECK_FALSE(fitted(broken, start).usable);
    CHECK_FALSE(fitted(stringAt(220.0, 1e-4), {}).usable);
    CHECK_FALSE(fitted(stringAt(220.0, 1e-4), {{Hertz(9000.0), 0.0, 1e-4, {}}}).usable);
    CHECK_FALSE(fitted(std::vector<float>(20, 0.1f), start).usable);
}
