#include "dsp/voice_tracker.h"

#include <algorithm>
#include <cmath>
#include <functional>
#include <random>
#include <vector>

#include <doctest/doctest.h>

#include "tests/support/string_sound.h"
#include "tests/support/summed.h"

using namespace landfall;

namespace {

constexpr double rate = 16000.0, stroke = 0.1;

double at(double midi) { return frequencyOf(MidiPitch(midi)).value; }

std::vector<float> string(double inharmonicity, const std::function<double(double)>& midi, double seconds = 1.6) {
    return stringSound({.sampleRate = rate,
                        .seconds = seconds,
                        .silence = stroke,
                        .inharmonicity = inharmonicity,
                        .decay = 1.2,
                        .partials = 14},
                       [&](double t) { return at(midi(t)); });
}

VoiceTracker::Stop stop(std::initializer_list<double> midi, bool slid = false) {
    VoiceTracker::Stop stop;
    for (const double each : midi) stop.pitches.emplace_back(at(each));
    stop.slid = slid;
    return stop;
}

// Cents of a string from where it is, the worst of the frames in a stretch of time.
double worst(const std::vector<VoiceTracker::Frame>& frames, std::size_t voice, double from, double to,
             const std::function<double(double)>& midi) {
    double most = -1.0;
    for (const auto& frame : frames)
        if (frame.time >= from && frame.time <= to)
            most = std::max(most,
                            std::abs(interval(Hertz(at(midi(frame.time - stroke))), frame.voices[voice].pitch).value));
    REQUIRE(most >= 0.0);
    return most;
}

}  // namespace

TEST_CASE("a string that bends is followed beside one that is held") {
    const auto bent = [](double t) {
        return t < 0.4 ? 62.0 : t < 0.6 ? 62.0 + 1.0 - std::cos((t - 0.4) * 5.0 * 3.14159265) : 64.0;
    };
    const auto held = [](double) { return 67.1; };
    const auto sound = summed({string(2e-4, bent), string(1.2e-4, held)});
    VoiceTracker tracker({.sampleRate = rate});
    const auto stops = std::vector{stop({62.0, 67.0}), stop({64.0, 67.0})};
    const auto frames = tracker.follow({sound}, stroke, 1.6, stops);
    CHECK(worst(frames, 0, 0.2, 0.48, bent) < 0.6);
    CHECK(worst(frames, 0, 0.78, 1.4, bent) < 0.6);
    CHECK(worst(frames, 0, 0.48, 0.78, bent) < 12.0);  // half a cosine bends within a window, and is read as straight
    CHECK(worst(frames, 1, 0.2, 1.4, held) < 0.6);
}

TEST_CASE("a chord slid over frets is found again where it lands, since the moment that it did") {
    // three frets, one every 30 ms, as frets are passed
    const auto way = [](double from, double t) { return from + std::clamp(std::floor((t - 0.47) / 0.03), 0.0, 3.0); };
    const auto low = [&](double t) { return way(57.0, t) + 0.05; };
    const auto middle = [&](double t) { return way(60.0, t) - 0.08; };
    const auto high = [&](double t) { return way(64.0, t) + 0.12; };
    const auto sound = summed({string(1.2e-4, low), string(2e-4, middle), string(8e-5, high)});
    VoiceTracker tracker({.sampleRate = rate});
    const auto stops = std::vector{stop({57.0, 60.0, 64.0}), stop({60.0, 63.0, 67.0}, true)};
    const auto frames = tracker.follow({sound}, stroke, 1.6, stops);
    const double arrival = stroke + 0.56;
    for (const auto& [voice, midi] :
         {std::pair<std::size_t, std::function<double(double)>>{0, low}, {1, middle}, {2, high}}) {
        CHECK(worst(frames, voice, arrival + 0.06, 1.4, midi) < 1.0);
        CHECK(worst(frames, voice, 0.2, 0.5, midi) < 1.0);
    }
    // The first frame at the new place, to two bins of 3 ms.
    const auto first = std::find_if(frames.begin(), frames.end(), [](const auto& frame) {
        return interval(Hertz(at(60.0)), frame.voices[0].pitch) > Cents(-30.0);
    });
    REQUIRE(first != frames.end());
    CHECK(std::abs(first->time - arrival) < 0.007);
}

TEST_CASE("what was asked leaves nothing of what sounds, something else nearly all") {
    const auto sound = summed({string(2e-4, [](double) { return 62.2; }), string(1.2e-4, [](double) { return 66.8; })});
    VoiceTracker tracker({.sampleRate = rate});
    CHECK(tracker.misfit({sound}, stroke, 1.6, stop({62.0, 67.0})) < 0.02);
    CHECK(tracker.misfit({sound}, stroke, 1.6, stop({59.0, 64.0})) > 0.7);
    CHECK(tracker.misfit({std::vector<float>(20000, 0.0f)}, stroke, 1.2, stop({62.0, 67.0})) == 1.0);
}

// How far the lower of two strings, bent from 65 to the 67 of the other one before 0.75 s, is over it then, in cents.
static double apartInUnison(const std::vector<float>& sound) {
    VoiceTracker tracker({.sampleRate = rate});
    const auto frames = tracker.follow({sound}, stroke, 0.55, std::vector{stop({65.0, 67.0})});
    REQUIRE_FALSE(frames.empty());
    const auto found = tracker.together({sound}, 0.75, 1.0, stop({67.0, 67.0}), frames[frames.size() / 2]);
    REQUIRE(found);
    return interval(found->voices[1].pitch, found->voices[0].pitch).value;
}

TEST_CASE("two strings in unison are told apart by what they were before") {
    for (const double apart : {-12.0, -4.0, 4.0, 12.0}) {
        const auto bent = [&](double t) { return t < 0.5 ? 65.0 : 67.0 + 0.03 + apart / 100.0; };
        const auto held = [](double) { return 67.03; };
        const auto sound = summed({string(2e-4, bent), string(1e-4, held)});
        CAPTURE(apart);
        CHECK(std::abs(apartInUnison(sound) - apart) < 1.5);
    }
}

namespace {

double meanSd(const std::vector<VoiceTracker::Frame>& frames, std::size_t voice, double from, double to) {
    double sum = 0.0, count = 0.0;
    for (const auto& frame : frames)
        if (frame.time >= from && frame.time <= to) {
            sum += frame.voices[voice].sd.value;
            count += 1.0;
        }
    REQUIRE(count > 0.0);
    return sum / count;
}

std::vector<float> hiss(double rms, double from, double seconds = 1.2) {
    std::mt19937 random(5);
    std::normal_distribution<double> gauss(0.0, rms);
    std::vector<float> samples(static_cast<std::size_t>(seconds * rate));
    for (std::size_t n = static_cast<std::size_t>(from * rate); n < samples.size(); ++n)
        samples[n] = static_cast<float>(gauss(random));
    return samples;
}

const auto held = [](double) { return 67.1; };

}  // namespace

TEST_CASE("while the sound comes a frame is known 0.22 s later, every 6 ms, from the moment that all strings sound") {
    const auto sound = summed({string(
                                   2e-4, [](double) { return 62.0; }, 1.0),
                               string(1.2e-4, held, 1.0)});
    VoiceTracker tracker({.sampleRate = rate});
    tracker.begin(stroke, {stop({62.0, 67.0})});
    const auto upTo = [&](double end) {
        return tracker.goOn({std::span(sound).first(static_cast<std::size_t>(end * rate))}, end, false);
    };
    // 30 ms for the strum, half of 100 ms that are fitted, and .22 s
    CHECK(upTo(stroke + 0.295).empty());
    CHECK_FALSE(upTo(stroke + 0.305).empty());
    const auto frames = upTo(0.8);
    CHECK(std::abs(frames.back().time - 0.577) < 0.004);
    CHECK(std::abs(frames[20].time - frames[10].time - 0.06) < 0.001);
}

TEST_CASE("strings are lost where three tenths of the power are left unexplained, and followed below") {
    const auto lasts = [](double rms) {
        const auto rings = [](double midi) {
            return stringSound({.sampleRate = rate, .seconds = 0.9, .silence = stroke, .decay = 50.0, .partials = 14},
                               at(midi));
        };
        const auto sound = summed({rings(62.0), rings(67.1), hiss(rms, 0.6, 1.0)});
        VoiceTracker tracker({.sampleRate = rate});
        return tracker.follow({sound}, stroke, 1.0, std::vector{stop({62.0, 67.0})}).back().time;
    };
    CHECK(lasts(0.13) > 0.95);
    CHECK(lasts(0.15) < 0.90);
}

TEST_CASE("a longer stretch is read where all strings stand, to a half step in two seconds; a faint one need not") {
    const auto sd = [](double slope, double amplitude) {
        auto gliding = string(
            2e-4, [slope](double t) { return 62.0 + slope / 100.0 * t; }, 0.9);
        for (float& sample : gliding) sample *= static_cast<float>(amplitude);
        const auto sound = summed({gliding, string(1.2e-4, held, 0.9), hiss(0.002, 0.0, 1.0)});
        VoiceTracker tracker({.sampleRate = rate});
        return meanSd(tracker.follow({sound}, stroke, 1.0, std::vector{stop({62.0, 67.0})}), 1, 0.4, 0.8);
    };
    const double still = sd(0.0, 1.0);
    CHECK(sd(50.0, 1.0) < 1.05 * still);
    CHECK(sd(75.0, 1.0) > 1.15 * still);
    CHECK(sd(150.0, 0.085) < 0.75 * still);
    CHECK(sd(150.0, 0.115) > 0.9 * still);
}

TEST_CASE("the first 12 ms after a stroke, a pick's noise, are left out") {
    const auto two = [] {
        return summed({string(
                           2e-4, [](double) { return 62.0; }, 0.6),
                       string(1.2e-4, held, 0.6)});
    };
    // A pick's noise for so long: what the strings leave of the sound about the first frame.
    const auto left = [&](double noise) {
        auto sound = two();
        const auto pick = hiss(0.2, stroke, 0.7);
        for (std::size_t n = 0; n < static_cast<std::size_t>((stroke + noise) * rate); ++n) sound[n] += pick[n];
        VoiceTracker tracker({.sampleRate = rate});
        return tracker.follow({sound}, stroke, 0.7, std::vector{stop({62.0, 67.0})}).front().residual;
    };
    CHECK(left(0.0115) < 0.01);
    CHECK(left(0.0160) > 0.05);
}

namespace {

// A string that hardly dies, loud as asked.
std::vector<float> rings(double midi, double amplitude = 0.2, double inharmonicity = 1e-4) {
    return stringSound({.sampleRate = rate,
                        .seconds = 0.9,
                        .silence = stroke,
                        .inharmonicity = inharmonicity,
                        .decay = 50.0,
                        .amplitude = amplitude,
                        .partials = 14},
                       at(midi));
}

// The mean of something over the frames of two strings, 62 and 67, from 0.2 s after the stroke on.
double mean(const std::vector<float>& sound, const std::function<double(const VoiceTracker::Frame&)>& of) {
    VoiceTracker tracker({.sampleRate = rate});
    double sum = 0.0, count = 0.0;
    for (const auto& frame : tracker.follow({sound}, stroke, 1.0, std::vector{stop({62.0, 67.0})}))
        if (frame.time > stroke + 0.2) {
            sum += of(frame);
            count += 1.0;
        }
    REQUIRE(count > 0.0);
    return sum / count;
}

// Where a slide is asked, until when (s) the strings are followed that rise by so much (cents) instead.
double followedUntil(double lowerRises, double upperRises, double upperAmplitude = 0.2) {
    const auto rising = [](double from, double cents, double amplitude) {
        return stringSound({.sampleRate = rate,
                            .seconds = 0.9,
                            .silence = stroke,
                            .decay = 1.2,
                            .amplitude = amplitude,
                            .partials = 14},
                           [=](double t) { return at(from + cents / 100.0 * std::clamp((t - 0.3) / 0.3, 0.0, 1.0)); });
    };
    VoiceTracker tracker({.sampleRate = rate});
    const auto sound = summed({rising(62.0, lowerRises, 0.2), rising(67.0, upperRises, upperAmplitude)});
    return tracker.follow({sound}, stroke, 1.0, std::vector{stop({62.0, 67.0}), stop({64.0, 69.0}, true)}).back().time;
}

// Another note that is heard beside A3, or the note given, as a MIDI pitch; 0: none is.
double besideIt(const std::vector<float>& sound, double known = 57.0) {
    VoiceTracker tracker({.sampleRate = rate});
    const auto pair = tracker.beside({sound}, 0.2, 0.4, Hertz(at(known)));
    return pair ? 69.0 + interval(Hertz(440.0), pair->other.pitch).value / 100.0 : 0.0;
}

}  // namespace

TEST_CASE("a fiftieth of a second of sound tells which strings were struck, less tells nothing") {
    // What is looked at begins half of 100 ms after the stroke: 30 ms for the strum, 20 before the first frame's middle.
    const auto sound = summed({rings(62.0), rings(67.0)});
    VoiceTracker tracker({.sampleRate = rate});
    CHECK(tracker.misfit({sound}, stroke, stroke + 0.0685, stop({62.0, 67.0})) == 1.0);
    CHECK(tracker.misfit({sound}, stroke, stroke + 0.0715, stop({62.0, 67.0})) < 0.02);
}

TEST_CASE("strings that leave their notes by 60 cents are on their way over frets, a faint one may stray alone") {
    CHECK(followedUntil(52.0, 52.0) > 0.95);
    CHECK(followedUntil(70.0, 70.0) < 0.75);
    // A tenth of what moving strings explain, and a fifth.
    CHECK(followedUntil(0.0, 100.0, 0.2 * 0.35) > 0.95);
    CHECK(followedUntil(0.0, 100.0, 0.2 * 0.5) < 0.75);
}

TEST_CASE("a string of a thousandth of the power is followed 30 cents off, a fainter one waits where it is asked for") {
    const auto off = [](double amplitude) {
        return mean(summed({rings(62.0), rings(67.3, 0.2 * amplitude), hiss(0.002, 0.0, 1.0)}),
                    [](const auto& frame) { return interval(Hertz(at(67.0)), frame.voices[1].pitch).value; });
    };
    CHECK(off(0.04) > 25.0);
    CHECK(std::abs(off(0.03)) < 15.0);
}

TEST_CASE("strings that are heard through hiss of their own power are followed while that does not grow by much") {
    const auto sound = summed({rings(62.0), rings(67.1), hiss(0.2, 0.0, 0.6), hiss(0.35, 0.6, 1.0)});
    VoiceTracker tracker({.sampleRate = rate});
    CHECK(tracker.follow({sound}, stroke, 1.0, std::vector{stop({62.0, 67.0})}).back().time > 0.95);
}

TEST_CASE("another note is heard beside one that is known from a fiftieth of the power on, and where it stands out") {
    CHECK(std::abs(besideIt(summed({rings(57.0), rings(62.0, 0.2 * 0.18)})) - 62.0) < 0.1);
    CHECK(besideIt(summed({rings(57.0), rings(62.0, 0.2 * 0.15)})) == 0.0);
    const auto through = [](double rms) {
        return besideIt(summed({rings(57.0), rings(62.0, 0.2 * 0.25), hiss(rms, 0.0, 1.0)}));
    };
    CHECK(std::abs(through(0.05) - 62.0) < 0.1);  // a third of what is left
    CHECK(through(0.06) == 0.0);                  // a quarter
}

TEST_CASE("no other note is heard where the known one is next to nothing") {
    // A fifteenth of the power beside a fourth above, which shares partials with it, and a twentieth.
    CHECK(std::abs(besideIt(summed({rings(57.0, 0.2 * 0.28), rings(62.0)})) - 62.0) < 0.1);
    CHECK(besideIt(summed({rings(57.0, 0.2 * 0.21), rings(62.0)})) == 0.0);
    // A fourth below, which explains more of it: more is asked of the two together.
    CHECK(std::abs(besideIt(summed({rings(57.0, 0.2 * 0.33), rings(52.0)})) - 52.0) < 0.1);
    CHECK(besideIt(summed({rings(57.0, 0.2 * 0.25), rings(52.0)})) == 0.0);
}

TEST_CASE("a note beside another has a first partial of a fiftieth of its power, else it is the octave above") {
    const auto note = [](double first) {
        auto other = rings(62.0);
        const auto sine = stringSound(
            {.sampleRate = rate, .seconds = 0.9, .silence = stroke, .decay = 50.0, .partials = 1}, at(62.0));
        for (std::size_t n = 0; n < other.size(); ++n) other[n] -= static_cast<float>(1.0 - first) * sine[n];
        return besideIt(summed({rings(57.0), other}));
    };
    CHECK(std::abs(note(0.17) - 62.0) < 0.1);
    CHECK(std::abs(note(0.13) - 74.0) < 0.1);
}

TEST_CASE("the lowest and nearly the highest note of a guitar are heard beside another") {
    for (const double other : {40.0, 43.0, 80.0, 86.0}) {
        CAPTURE(other);
        CHECK(std::abs(besideIt(summed({rings(57.0), rings(other)})) - other) < 0.1);
    }
}

TEST_CASE("a low string that swells as fast as an effect lets it is no second one") {
    for (const double swells : {6.0, 9.0, 11.0, 14.0}) {
        auto sound = rings(40.0);
        for (std::size_t n = 0; n < sound.size(); ++n)
            sound[n] *=
                static_cast<float>(1.0 + 0.8 * std::sin(2.0 * 3.14159265 * swells * static_cast<double>(n) / rate));
        CAPTURE(swells);
        CHECK(besideIt(sound, 40.0) == 0.0);
    }
}

TEST_CASE("a slide is told where it lands, to 10 ms, through the noise it makes there, or where much of that ends") {
    // Frets every 30 ms, the last one 0.56 s after the stroke; from then on hiss for so long (s).
    const auto late = [](double rms, double lasts) {
        const auto slid = [](double from, double inharmonicity) {
            return string(
                inharmonicity, [from](double t) { return from + std::clamp(std::floor((t - 0.47) / 0.03), 0.0, 3.0); },
                1.0);
        };
        const double landed = stroke + 0.56;
        const auto sound = summed({slid(57.0, 1.2e-4), slid(60.0, 2e-4), hiss(rms, landed - 0.06, landed + lasts)});
        VoiceTracker tracker({.sampleRate = rate});
        const auto frames =
            tracker.follow({sound}, stroke, 1.0, std::vector{stop({57.0, 60.0}), stop({60.0, 63.0}, true)});
        const auto first = std::find_if(frames.begin(), frames.end(), [](const auto& frame) {
            return interval(Hertz(at(60.0)), frame.voices[0].pitch) > Cents(-30.0);
        });
        REQUIRE(first != frames.end());
        return first->time - landed;
    };
    CHECK(std::abs(late(0.05, 0.12)) < 0.01);
    CHECK(late(0.06, 0.12) > 0.10);
    CHECK(std::abs(late(0.06, 0.20)) < 0.01);  // what goes on for longer than 0.15 s is no noise of landing
}

TEST_CASE("a unison's strings are told apart through hiss, also where the bend dragged the held one along by 6 cents") {
    for (const double apart : {-6.0, -3.0, 6.0}) {
        const auto bent = [&](double t) { return t < 0.5 ? 65.0 : 67.09 + apart / 100.0; };
        const auto dragged = [](double t) { return t < 0.5 ? 67.03 : 67.09; };
        const auto sound = summed({string(2e-4, bent), string(1e-4, dragged), hiss(0.01, 0.0, 1.7)});
        CAPTURE(apart);
        CHECK(std::abs(apartInUnison(sound) - apart) < 1.0);
    }
}
