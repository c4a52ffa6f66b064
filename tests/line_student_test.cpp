// The simulated student plays lines, with the habits of players: the marks against the truth of the drawn curve.
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <vector>

#include "src/audio/simulated_player.h"
#include "src/formats/phrase_file.h"
#include "src/practice/line_listener.h"
#include "src/practice/line_words.h"
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
