#include "dsp/voice_tracker.h"

#include <cmath>
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

TEST_CASE("two strings in unison are told apart by what they were before") {
    for (const double apart : {-12.0, -4.0, 4.0, 12.0}) {
        const auto bent = [&](double t) { return t < 0.5 ? 65.0 : 67.0 + 0.03 + apart / 100.0; };
        const auto held = [](double) { return 67.03; };
        const auto sound = summed({string(2e-4, bent), string(1e-4, held)});
        VoiceTracker tracker({.sampleRate = rate});
        const auto frames = tracker.follow({sound}, stroke, 0.55, std::vector{stop({65.0, 67.0})});
        REQUIRE_FALSE(frames.empty());
        const auto found = tracker.together({sound}, 0.75, 1.0, stop({67.0, 67.0}), frames[frames.size() / 2]);
        REQUIRE(found);
        CAPTURE(apart);
        CHECK(std::abs(interval(found->voices[1].pitch, found->voices[0].pitch).value - apart) < 1.5);
    }
}
