// What a player has between the strings and the computer may cost cents, never the sound: two tries each way through
// every effect of tests/support/effects.h. The whole table with its figures: tests/bench/effects.
#include <algorithm>
#include <initializer_list>
#include <map>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "src/audio/simulated_player.h"
#include "src/practice/listener.h"
#include "tests/support/effect_tries.h"
#include "tests/support/students.h"

using namespace landfall;

namespace {

// Twice to five times what was measured (0.03 dry, 3.0 through the wah), since a new seed moves it as much.
struct Bounds {
    std::string effect;
    int found;     // landings, of 4
    double cents;  // their median error at most
};

// A bend and a slide.
void checkThrough(std::initializer_list<Bounds> all) {
    const auto takes = effectTakes();
    for (const Bounds& bounds : all) {
        const auto effect = std::find_if(effects().begin(), effects().end(),
                                         [&](const Effect& one) { return one.name == bounds.effect; });
        REQUIRE(effect != effects().end());
        HeardThrough heard;
        for (const char* move : {"full step", "slide, two frets"})
            heard.add(hearThrough(
                *effect,
                *std::find_if(takes.begin(), takes.end(), [&](const EffectTake& take) { return take.name == move; }), 2,
                11));
        std::sort(heard.errors.begin(), heard.errors.end());
        const double median = heard.errors.empty() ? 0.0 : heard.errors[heard.errors.size() / 2];
        const double share = 100.0 * heard.heard / heard.sounding;
        MESSAGE(bounds.effect << ": " << share << " % of frames heard, " << heard.found << " landings, median error "
                              << median);
        CAPTURE(bounds.effect);
        CHECK(heard.sounding > 800);
        CHECK(share > 99.0);
        CHECK(heard.tries == 4);
        CHECK(heard.found >= bounds.found);
        CHECK(heard.twoStrings == 0);
        CHECK(median <= bounds.cents);
    }
}

}  // namespace

TEST_CASE("a string is heard through pedals that change its level") {
    checkThrough({{"dry", 4, 0.2}, {"compressor", 4, 0.2}, {"gate", 4, 0.2}, {"tremolo", 4, 0.5}, {"wah", 4, 5.0}});
}

TEST_CASE("a string is heard through pedals that move its pitch or its partials") {
    checkThrough({{"chorus", 4, 3.0},
                  {"vibrato pedal", 4, 1.0},
                  {"octave down", 4, 0.2},
                  // A notch that passes through the first partial leaves the octave: a start note that is taken for it
                  // begins no try.
                  {"flanger", 3, 3.0},
                  {"phaser", 2, 3.0}});
}

TEST_CASE("a string is heard through echoes and reverberation") {
    checkThrough({{"delay", 4, 1.0},
                  {"slap delay", 4, 1.0},
                  {"reverb", 4, 2.0},
                  {"shimmer", 4, 1.0},
                  {"room", 4, 1.0},
                  {"room and fan", 4, 1.0}});
}

TEST_CASE("a string is heard through amplifiers, and beside what else sounds") {
    checkThrough({{"amp", 4, 1.0},
                  {"amp, delay", 4, 1.0},
                  {"lead: amp, chorus, delay, reverb", 4, 2.0},
                  {"feedback", 4, 1.0},
                  {"band in the room", 4, 1.0},
                  {"open strings ring along", 4, 1.0}});
}

TEST_CASE("What was told as final of a slide given up late in a room stands at the note's end") {
    constexpr double rate = 48000.0;
    const Move five{Gesture::slide, MidiPitch(67.0), MidiPitch(72.0), NeckPlace{2, 8}, 13};
    int finals = 0;
    // of 24 seeds those whose tries would have been told to have died at last
    for (const std::uint32_t seed : {9u, 13u}) {
        SimulatedPlayer player({.seed = seed, .skill = noor()});
        player.rest(Seconds(0.5));
        for (int i = 0; i < 3; ++i) {
            player.play({five}, {.played = Played::died, .failing = Failing::late});
            player.rest(Seconds(0.6));
        }
        std::vector<float> sound(static_cast<std::size_t>((player.queued().value + 0.6) * rate));
        player.read(sound);
        Listener listener({.sampleRate = rate});
        listener.setMoves({five}, MoveOrder::everyTry);
        std::map<int, Verdict> told;
        const auto hear = [&](std::span<const ListenerEvent> events) {
            for (const ListenerEvent& event : events) {
                if (const auto* final = std::get_if<FinalLanding>(&event))
                    told[final->landing.tryNumber] = final->landing.verdict;
                const auto* ended = std::get_if<TryEnded>(&event);
                if (ended == nullptr || !told.contains(ended->landing.tryNumber)) continue;
                ++finals;
                CHECK(ended->landing.verdict == told[ended->landing.tryNumber]);
            }
        };
        const auto room = std::ranges::find(effects(), "room", &Effect::name);
        const std::vector<float> heard = through(*room, {sound, {}}, seed).samples;
        for (std::size_t at = 0; at < heard.size(); at += 480)
            hear(listener.process(std::span(heard).subspan(at, std::min<std::size_t>(480, heard.size() - at))));
        hear(listener.finish());
    }
    CHECK(finals >= 2);
}

// Each of these named a string that nobody played before it had to stand out of a known one that swells, out of what
// sounded before the stroke and out of the partials that a wide vibrato goes through.
TEST_CASE("no second string is named where one is played through a tremolo, a phaser, a room or beside a fan") {
    struct Played {
        std::string effect, move;
        std::uint32_t seed;
    };
    const auto takes = effectTakes();
    for (const auto& [name, move, seed] : {Played{"tremolo", "note", 108},
                                           {"tremolo", "half step, low", 103},
                                           {"phaser", "wide vibrato", 109},
                                           {"room", "wide vibrato", 209},
                                           {"room and fan", "wide vibrato", 109},
                                           {"room and fan", "half step, low", 103}}) {
        CAPTURE(name);
        CAPTURE(move);
        const HeardThrough heard = hearThrough(*std::ranges::find(effects(), name, &Effect::name),
                                               *std::ranges::find(takes, move, &EffectTake::name), 3, seed);
        CHECK(heard.tries == 3);
        CHECK(heard.found >= 2);
        CHECK(heard.twoStrings == 0);
    }
}

TEST_CASE("each effect does something to the sound, and the same for the same seed") {
    const PlayedTake played = playedTake(effectTakes().front(), 1, 3);
    for (const Effect& effect : effects()) {
        CAPTURE(effect.name);
        const PitchedSound once = through(effect, played.sound, 5), again = through(effect, played.sound, 5);
        CHECK(once.samples.size() == played.sound.samples.size());
        CHECK(once.samples == again.samples);
        CHECK((once.samples != played.sound.samples) == (effect.name != "dry"));
        CHECK(std::all_of(once.samples.begin(), once.samples.end(), [](float x) { return std::abs(x) <= 0.91F; }));
    }
}
