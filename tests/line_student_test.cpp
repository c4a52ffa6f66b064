// The simulated student plays lines, with the habits of players: the marks against the truth of the drawn curve.
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <vector>

#include "src/audio/simulated_player.h"
#include "src/formats/phrase_file.h"
#include "src/practice/line_listener.h"
#include "src/practice/line_words.h"
#include "tests/support/effects.h"
#include "tests/support/students.h"

using namespace landfall;

namespace {

constexpr double rate = 48000.0;

struct Pass {
    std::vector<MoveTruth> truths;
    std::vector<float> sound;
};

Pass play(const Line& line, std::uint32_t seed, const PlayerSkill& skill, double tempo) {
    SimulatedPlayer player({.sampleRate = rate, .seed = seed, .skill = skill});
    player.rest(Seconds(0.6));
    player.play(line, tempo);
    player.rest(Seconds(1.0));
    Pass played;
    played.sound.resize(static_cast<std::size_t>(player.queued().value * rate));
    player.read(played.sound);
    played.truths = player.truths();
    return played;
}

LineMarks mark(const Line& line, const std::vector<float>& sound) {
    LineListener listener(line, rate, standardA4);
    listener.process(sound);
    listener.finish();
    return listener.marks();
}

Line phrase(const char* title) {
    const auto found = findPhrase(title);
    REQUIRE(found);
    return found->line;
}

}  // namespace

TEST_CASE(
    "open ends, ranges of hints and first notes of slides: asked in a file, played by the student, marked and told") {
    const Line line = phrase("let it fall");
    for (std::uint32_t seed = 1; seed <= 6; ++seed) {
        CAPTURE(seed);
        const Pass played = play(line, seed, exactPlayer(), 66.0);
        REQUIRE(played.truths.size() == line.moves.size());
        const LineMarks marks = mark(line, played.sound);
        for (std::size_t i = 0; i < line.moves.size(); ++i) {
            CAPTURE(i);
            const LineMark& each = marks.moves[i];
            CHECK(each.outcome == Outcome::landed);
            if (line.moves[i].move.gesture != Gesture::fall) continue;
            // A fall lands nowhere and is never said to have died; it is known how far it was heard.
            CHECK_FALSE(each.landingError);
            CHECK(each.heard->value < line.moves[i].move.from.value - 0.8);
            CHECK(faultOf(line.moves[i], each, Cents(25.0)).empty());
            if (line.moves[i].picked) {
                REQUIRE(each.lingered);
                // A hand sets out slowly: the first fret is crossed about a tenth of a second later.
                const double late = each.lingered->value - played.truths[i].linger->value;
                CHECK(late > -0.020);
                CHECK(late < 0.180);
            }
        }
    }
}

TEST_CASE("an echo on the input is told while a line is played, once, and of a dry line nothing") {
    const Line line = phrase("rain on the awning");
    const auto told = [&](const std::string& name, std::uint32_t seed) {
        SimulatedPlayer player({.sampleRate = rate, .seed = seed, .skill = noor()});
        for (int pass = 0; pass < 3; ++pass) {
            player.play(line, 80.0);
            player.rest(Seconds(1.5));
        }
        PitchedSound sound;
        sound.samples.resize(static_cast<std::size_t>(player.queued().value * rate));
        player.read(sound.samples);
        sound.hertz.assign(sound.samples.size() / 48, 0.0);
        const auto effect = std::ranges::find(effects(), name, &Effect::name);
        REQUIRE(effect != effects().end());
        sound = through(*effect, std::move(sound), seed);
        LineListener listener(line, rate, standardA4);
        std::vector<HeardEffect> heard;
        for (std::size_t at = 0; at < sound.samples.size(); at += 4096)
            for (const ListenerEvent& event : listener.process(
                     std::span(sound.samples).subspan(at, std::min<std::size_t>(4096, sound.samples.size() - at))))
                if (const auto* known = std::get_if<EffectHeard>(&event)) heard.push_back(known->effect);
        return heard;
    };
    using Told = std::vector<HeardEffect>;
    for (const std::uint32_t seed : {1u, 2u, 3u}) {
        CAPTURE(seed);
        CHECK(told("dry", seed).empty());
        CHECK(told("delay", seed) == Told{HeardEffect::ringing});
    }
}
