#include "src/app/input_watch.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <random>

#include "dsp/quantise.h"
#include "src/audio/simulated_player.h"
#include "src/practice/effect_ear.h"
#include "src/practice/listener.h"

using namespace landfall;

namespace {

constexpr double rate = 48000.0;

bool says(const InputWatch& watch, Trouble trouble) {
    const auto all = watch.notices();
    return std::any_of(all.begin(), all.end(), [&](const Notice& notice) { return notice.trouble == trouble; });
}

SimulatedPlayer student() {
    SimulatedPlayer::Config config;
    config.sampleRate = rate;
    config.seed = 7;
    return SimulatedPlayer(config);
}

// A simulated student's half-step bends, heard through a fault.
struct Room {
    SimulatedPlayer player = student();
    Listener listener{{.sampleRate = rate}};
    InputWatch watch;
    double level = 0.0;  // of the samples, followed with 20 ms

    void hear(double seconds, const std::function<float(float)>& fault) {
        for (double played = 0.0; played < seconds; played += 0.1) {
            if (player.queued().value < 0.1) {
                player.play(parseMove("bend:G4:G#4").value());
                player.rest(Seconds(1.5));
            }
            std::vector<float> samples(static_cast<std::size_t>(0.1 * rate));
            player.read(samples);
            for (float& sample : samples) {
                level += (std::abs(static_cast<double>(sample)) - level) / (0.02 * rate);
                sample = fault(sample);
            }
            quantise(samples);
            for (const ListenerEvent& event : listener.process(samples)) watch.hear(event);
        }
    }
};

}  // namespace

TEST_CASE("a guitar that is played well has nothing said of it") {
    Room room;
    room.hear(30.0, [](float sample) { return sample; });
    CHECK(room.watch.notices().empty());
}

TEST_CASE("a pulled cable is no signal, and is forgotten when it is back") {
    Room room;
    room.hear(6.0, [](float sample) { return sample; });
    room.hear(2.0, [](float) { return 0.0f; });
    CHECK_FALSE(says(room.watch, Trouble::noSignal));
    room.hear(2.5, [](float) { return 0.0f; });
    CHECK(says(room.watch, Trouble::noSignal));
    room.hear(1.0, [](float sample) { return sample; });
    CHECK_FALSE(says(room.watch, Trouble::noSignal));
}

TEST_CASE("a guitar far too low is too quiet after three strokes, and one good stroke ends it") {
    Room room;
    room.hear(20.0, [](float sample) { return 0.01f * sample; });
    CHECK(says(room.watch, Trouble::tooQuiet));
    room.hear(6.0, [](float sample) { return sample; });
    CHECK_FALSE(says(room.watch, Trouble::tooQuiet));
}

TEST_CASE("an input driven over full scale clips, and that stands until three strokes in a row were clean") {
    Room room;
    room.hear(6.0, [](float sample) { return std::clamp(12.0f * sample, -1.0f, 1.0f); });
    CHECK(says(room.watch, Trouble::clipping));
    CHECK(room.watch.clipping());
    room.hear(3.3, [](float sample) { return 0.5f * sample; });
    CHECK(says(room.watch, Trouble::clipping));  // until the player has looked up
    for (int i = 0; i < 60; ++i) room.watch.wait(Seconds(1.0));
    CHECK(says(room.watch, Trouble::clipping));
    room.hear(15.0, [](float sample) { return 0.5f * sample; });
    CHECK_FALSE(says(room.watch, Trouble::clipping));
    CHECK_FALSE(room.watch.clipping());
}

TEST_CASE("the input is away while its device is gone or its cable is pulled") {
    Room room;
    room.hear(6.0, [](float sample) { return sample; });
    CHECK_FALSE(room.watch.away());
    room.hear(4.5, [](float) { return 0.0f; });
    CHECK(room.watch.away());
    room.hear(1.0, [](float sample) { return sample; });
    CHECK_FALSE(room.watch.away());
    room.watch.gone("Line in is gone");
    CHECK(room.watch.away());
    room.watch.running(true);
    CHECK_FALSE(room.watch.away());
}

TEST_CASE("a gate that shuts the note's end off is told from a pulled cable") {
    Room room;
    room.hear(30.0, [&room](float sample) { return room.level < 0.03 ? 0.0f : sample; });
    CHECK(says(room.watch, Trouble::gateCutting));
    CHECK_FALSE(says(room.watch, Trouble::noSignal));
}

TEST_CASE("an effect is told for a while, once, whoever listens") {
    Room room;
    std::vector<float> line(static_cast<std::size_t>(0.35 * rate));
    std::size_t at = 0;
    const auto echo = [&](float sample) {
        const float late = line[at];
        line[at] = sample + 0.35f * late;
        at = (at + 1) % line.size();
        return sample + 0.4f * late;
    };
    room.hear(20.0, echo);
    REQUIRE(says(room.watch, Trouble::effectHeard));
    CHECK(room.watch.notices().front().detail == effectSentence(HeardEffect::ringing));
    room.hear(25.0, echo);
    CHECK_FALSE(says(room.watch, Trouble::effectHeard));
    room.watch.hear(EffectHeard{Seconds(50.0), HeardEffect::ringing});
    CHECK_FALSE(says(room.watch, Trouble::effectHeard));
    room.watch.hear(EffectHeard{Seconds(51.0), HeardEffect::wavering});
    CHECK(says(room.watch, Trouble::effectHeard));
}

TEST_CASE("where no pitch is looked for nothing is said of the room: strings that ring on are as even") {
    InputWatch ringing, noisy;
    for (int tenth = 1; tenth <= 120; ++tenth) {
        const InputLevel level{Seconds(0.1 * tenth), Decibels(-12.0), Decibels(-25.0)};
        ringing.hear(level);
        noisy.hear(level);
        noisy.hear(LivePitch{PitchFrame{}, std::nullopt});
    }
    CHECK_FALSE(says(ringing, Trouble::roomTooLoud));
    CHECK(says(noisy, Trouble::roomTooLoud));
}

TEST_CASE("a room nearly as loud as the strings is said after eight seconds") {
    Room room;
    std::mt19937 chance(3);
    std::normal_distribution<float> noise(0.0f, 0.08f);
    room.hear(6.0, [&](float sample) { return sample + noise(chance); });
    CHECK_FALSE(says(room.watch, Trouble::roomTooLoud));
    room.hear(6.0, [&](float sample) { return 0.3f * sample + noise(chance); });
    CHECK(says(room.watch, Trouble::roomTooLoud));
    room.hear(10.0, [](float sample) { return sample; });
    CHECK_FALSE(says(room.watch, Trouble::roomTooLoud));
}

TEST_CASE(
    "lost samples are said for ten seconds; the pause of a device that was away is none of them, and no gate's work") {
    Room room;
    const auto clean = [](float sample) { return sample; };
    room.hear(3.0, clean);
    room.watch.gap(Seconds(0.02));
    CHECK(says(room.watch, Trouble::droppedSamples));
    room.hear(10.5, clean);
    CHECK_FALSE(says(room.watch, Trouble::droppedSamples));
    room.watch.gone("The input is gone: plug it in again.");
    CHECK(says(room.watch, Trouble::deviceLost));
    room.watch.absent("No such device.");
    CHECK(says(room.watch, Trouble::deviceLost));
    room.watch.running(true);
    CHECK(says(room.watch, Trouble::deviceBack));
    room.watch.gap(Seconds(4.0));
    room.hear(4.0, [](float) { return 0.0f; });
    CHECK_FALSE(says(room.watch, Trouble::droppedSamples));
    room.hear(2.0, clean);
    CHECK(room.watch.notices().empty());
}

TEST_CASE("without a device it is asked for, in the words it was reported with") {
    InputWatch watch;
    watch.absent("no input device 'X'");
    REQUIRE(watch.notices().size() == 1);
    CHECK(watch.notices()[0].trouble == Trouble::noDevice);
    CHECK(watch.notices()[0].detail == "no input device 'X'");
    watch.running(false);
    CHECK(watch.notices().empty());
}

TEST_CASE("an output that is gone is said until the device runs anew") {
    InputWatch watch;
    watch.running(false);
    watch.outputGone();
    CHECK(says(watch, Trouble::noOutput));
    watch.wait(Seconds(600.0));
    CHECK(says(watch, Trouble::noOutput));
    watch.running(true);
    CHECK_FALSE(says(watch, Trouble::noOutput));
}
